package dashboards_test

import (
	"net/http/httptest"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// paperWidth is a sheet of A4 without its margins, in px.
const paperWidth = 718

// TestPagesOnPaper looks at what a printer would get: forms are for the screen,
// nothing scrolls, and alarms that belong together may part at the end of a
// page, for they may be longer than one.
func TestPagesOnPaper(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
	for _, path := range browserPaths {
		if path == "/login" {
			continue // nobody prints it
		}
		visit(t, ctx, server.URL, path, paperWidth)
		wrong, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](wrongOnPaper))
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		if len(wrong) > 0 {
			t.Errorf("%s on paper: %v", path, wrong)
		}
	}
}

const wrongOnPaper = `(() => {
  const all = s => [...document.querySelectorAll(s)];
  return [
    ...all("form, button, input, select").filter(e => e.checkVisibility()).map(e => e.tagName + " is printed"),
    ...all(".scroll").filter(e => e.scrollWidth > e.clientWidth + 1).map(e => "cut by " + (e.scrollWidth - e.clientWidth) + " px"),
    ...all(".event").filter(e => getComputedStyle(e).breakInside != "auto").map(() => "what belongs together leaves an empty page"),
  ].slice(0, 5);
})()`
