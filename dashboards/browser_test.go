package dashboards_test

import (
	"context"
	"flag"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"heaterd/dashboards"
	"heaterd/ingest/source"
)

var shots = flag.String("shots", "", "directory to write a picture of every page to, for looking at")

// browserPaths are the pages a browser is shown.
var browserPaths = []string{
	"/", "/?q=H-0&site=quay", "/alarms", "/alarms/quality", "/alarms/quay.hall.co-short-term.1", "/alarms/H-08.shutdown-unexplained.5",
	"/alarms/quay.hall.co-ceiling.1", "/heaters/H-07", "/heaters/H-08?range=7d", "/heaters/H-07/label", "/sites/quay", "/sites/mill", "/nodes/n-07", "/login", "/nowhere",
	"/service", "/service/plan", "/log", "/reports", "/reports/exposure?site=quay&space=hall", "/reports/season?site=quay", "/reports/service?heater=H-07", "/reports/alarms",
}

// browser is a headless browser, or the end of the test where there is none.
func browser(t *testing.T) context.Context {
	t.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "headless-shell"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("CI") == "true" {
			t.Fatal("no browser (chromium) is installed")
		}
		t.Skip("no browser (chromium) is installed")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-features", "OptimizationHints,MediaRouter,Translate"), chromedp.Flag("no-pings", true))
	alloc, endAlloc := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(endAlloc)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	ctx, endTime := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(endTime)
	return ctx
}

// complaints collects what the browser's console says.
type complaints struct {
	mu  sync.Mutex
	all []string
}

func (c *complaints) listen(t *testing.T, ctx context.Context) {
	t.Helper()
	err := chromedp.Listen(ctx, func(ev any) {
		c.mu.Lock()
		defer c.mu.Unlock()
		switch e := ev.(type) {
		case *log.EventEntryAdded:
			c.all = append(c.all, e.Entry.Text+" "+e.Entry.URL)
		case *runtime.EventExceptionThrown:
			c.all = append(c.all, e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			c.all = append(c.all, "console."+string(e.Type))
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
}

func (c *complaints) take() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	all := c.all
	c.all = nil
	return all
}

func TestPagesInABrowser(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	var said complaints
	said.listen(t, ctx)
	for _, width := range []int64{320, 1280} {
		for _, path := range browserPaths {
			visit(t, ctx, server.URL, path, width)
			for _, c := range said.take() {
				if !strings.Contains(c, "404") || path != "/nowhere" {
					t.Errorf("%s at %d px: the browser complains: %s", path, width, c)
				}
			}
		}
	}
}

// On a tablet the fleet shows all its columns, without being pushed sideways.
func TestTheFleetFitsATablet(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	for _, width := range []int64{768, 820, 880, 1024} {
		for _, path := range []string{"/", "/sites/quay", "/sites/mill"} {
			visit(t, ctx, server.URL, path, width)
			cut, err := chromedp.Run(ctx, chromedp.Evaluate[[]int](`[...document.querySelectorAll(".scroll")].map(e => e.scrollWidth - e.clientWidth).filter(over => over > 1)`))
			if err != nil || len(cut) > 0 {
				t.Errorf("%s at %d px: a table is %v px too wide for its box, %v", path, width, cut, err)
			}
		}
	}
}

// On a phone the figures of the air stand beside their limits without being
// pushed sideways, the dose with its decimal too.
func TestTheAirFitsAPhone(t *testing.T) {
	v := fixedView()
	for i := range v.Sites[0].Spaces {
		v.Sites[0].Spaces[i].Air.COHbPercent, v.Sites[0].Spaces[i].Air.TWA8hPPM = 10.7, 123.4
	}
	w := newWorld(t, viewing(v))
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	visit(t, ctx, server.URL, "/sites/quay", 390)
	cut, err := chromedp.Run(ctx, chromedp.Evaluate[[]int](`[...document.querySelectorAll(".slim")].map(e => e.parentElement.scrollWidth - e.parentElement.clientWidth).filter(over => over > 1)`))
	if err != nil || len(cut) > 0 {
		t.Errorf("a table is %v px too wide for its box, %v", cut, err)
	}
}

// TestAnUnheardHeaterFitsThePage looks at what only a heater says whose unit
// nobody heard: sentences where others have figures.
func TestAnUnheardHeaterFitsThePage(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Node, v.Heaters[0].Heard = "n-17", 0
	w := newWorld(t, func(o *dashboards.Options) { o.View, o.Sources = viewOf(v), source.Defaults() })
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	for _, width := range []int64{320, 390, 1280} {
		visit(t, ctx, server.URL, "/", width)
		visit(t, ctx, server.URL, "/heaters/H-07", width)
		visit(t, ctx, server.URL, "/nodes/n-17", width)
	}
}

// TestALongStateStaysInItsPlace: on a phone it ran over the hours beside it, and
// neither could be read.
func TestALongStateStaysInItsPlace(t *testing.T) {
	v := fixedView()
	v.Heaters[0].OutOfWork, v.Heaters[0].Lit = true, true
	server := httptest.NewServer(newWorld(t, viewing(v)).handler)
	defer server.Close()
	ctx := browser(t)
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(server.URL+"/heaters/H-07")); err != nil {
		t.Fatal(err)
	}
	out, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll("dd .is")].filter(e => e.getBoundingClientRect().right > e.closest("dd").getBoundingClientRect().right + 1).map(e => e.innerText)`))
	if err != nil || len(out) > 0 {
		t.Errorf("%v, over what stands beside: %q", err, out)
	}
}

func visit(t *testing.T, ctx context.Context, base, path string, width int64) {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(base+path)); err != nil {
		t.Fatalf("%s at %d px: %v", path, width, err)
	}
	over, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](tooWide))
	if err != nil {
		t.Fatalf("%s at %d px: %v", path, width, err)
	}
	if len(over) > 0 {
		t.Errorf("%s at %d px scrolls sideways: %v", path, width, over)
	}
	cut, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](brokenHeads))
	if err != nil || len(cut) > 0 {
		t.Errorf("%s at %d px: words broken in the head of a table: %v, %v", path, width, cut, err)
	}
	shoot(t, ctx, width, path)
}

// tooWide lists what makes the page wider than the window.
const tooWide = `(() => {
  const w = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= w) return [];
  return [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > w + 1 && !e.closest(".scroll"))
    .slice(0, 5).map(e => e.tagName + "." + e.className + " " + Math.round(e.getBoundingClientRect().right));
})()`

// brokenHeads lists the words in heads of columns that do not fit on a line.
const brokenHeads = `(() => {
  const out = [], range = document.createRange();
  for (const head of document.querySelectorAll("thead th")) {
    if (head.closest("thead").offsetWidth < 2) continue; // for those who hear the page
    const walk = document.createTreeWalker(head, NodeFilter.SHOW_TEXT);
    for (let text; text = walk.nextNode();) for (const word of text.data.matchAll(/\S+/g)) {
      range.setStart(text, word.index); range.setEnd(text, word.index + word[0].length);
      const tops = new Set([...range.getClientRects()].map(r => Math.round(r.top)));
      if (tops.size > 1 && !word[0].includes("-")) out.push(word[0]);
    }
  }
  return out;
})()`

func shoot(t *testing.T, ctx context.Context, width int64, path string) {
	t.Helper()
	if *shots == "" {
		return
	}
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	name := url.PathEscape(strings.Trim(path, "/"))
	if width < 600 {
		name += "-phone"
	}
	if err := os.WriteFile(filepath.Join(*shots, "page-"+name+".png"), png, 0o600); err != nil {
		t.Fatal(err)
	}
}
