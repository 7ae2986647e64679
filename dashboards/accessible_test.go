package dashboards_test

import (
	"context"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/dashboards"
	"heaterd/ingest/reading"
)

// axe gives the accessibility checker axe-core, whose file the environment
// names.
func axe(t *testing.T) string {
	t.Helper()
	raw, err := os.ReadFile(os.Getenv("AXE_CORE_JS"))
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("AXE_CORE_JS must name the file axe.min.js of the npm package axe-core")
		}
		t.Skip("AXE_CORE_JS does not name the file axe.min.js of the npm package axe-core")
	}
	return string(raw)
}

// runAxe asks for the rules of WCAG 2.0 to 2.2, levels A and AA.
const runAxe = `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
  .then(r => r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + " " + n.any.map(a => a.message).join("; ")).join(" | ")))`

// TestAxeFindsNothing runs axe-core over every page, light and dark, with
// every closed part opened. It finds only part of what WCAG asks.
func TestAxeFindsNothing(t *testing.T) {
	script := axe(t)
	server := httptest.NewServer(newWorld(t).handler)
	defer server.Close()
	ctx := browser(t)
	for scheme, width := range map[string]int64{"light": 360, "dark": 1280} {
		dress(t, ctx, scheme)
		for _, path := range browserPaths {
			visit(t, ctx, server.URL, path, width)
			for _, f := range examine(t, ctx, script) {
				t.Errorf("%s, %s, %d px: %s", path, scheme, width, f)
			}
		}
	}
}

// examine opens every closed part of the page shown and runs axe-core on it.
func examine(t *testing.T, ctx context.Context, script string) []string {
	t.Helper()
	const unfold = `document.querySelectorAll("details").forEach(d => d.open = true); 0`
	for _, do := range []string{unfold, script + "; 0"} {
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[int](do)); err != nil {
			t.Fatal(err)
		}
	}
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](runAxe, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

func dress(t *testing.T, ctx context.Context, scheme string) {
	t.Helper()
	p := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, p); err != nil {
		t.Fatal(err)
	}
}

// smallTargets lists what can be pressed and is smaller than 24 by 24 CSS
// pixels (WCAG 2.2, 2.5.8); links within a sentence are exempt.
const smallTargets = `[...document.querySelectorAll("a, button, summary, input, select")]
  .filter(e => e.type !== "hidden" && e.checkVisibility() && !e.closest("p, li, td, th, dd, h1, h2, h3, .skip"))
  .map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.width > 0 && (r.width < 23.5 && !e.closest("label") || r.height < 23.5 && !e.closest("label")))
  .map(([e, r]) => e.outerHTML.slice(0, 100) + " " + Math.round(r.width) + "×" + Math.round(r.height))`

// focused says what has the focus and whether it shows.
const focused = `(() => { const e = document.activeElement; if (!e || e === document.body) return "";
  const s = getComputedStyle(e), r = e.getBoundingClientRect();
  return (s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 ? "seen " : "unseen ") + (r.width > 0 ? "" : "hidden ") + e.tagName + " " + (e.textContent || e.name || "").trim().slice(0, 40); })()`

func TestKeyboardReachesEverything(t *testing.T) {
	server := httptest.NewServer(newWorld(t).handler)
	defer server.Close()
	ctx := browser(t)
	for path, target := range map[string]string{"/": "Acknowledge", "/heaters/H-07": "Refuelled", "/alarms/quay.hall.co-ceiling.1": "Reset"} {
		visit(t, ctx, server.URL, path, 1280)
		small, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](smallTargets))
		if err != nil || len(small) > 0 {
			t.Errorf("%s: targets under 24 px: %v %v", path, small, err)
		}
		var stops []string
		for range 120 {
			if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab)); err != nil {
				t.Fatal(err)
			}
			at, err := chromedp.Run(ctx, chromedp.Evaluate[string](focused))
			if err != nil {
				t.Fatal(err)
			}
			if at == "" || len(stops) > 0 && at == stops[0] && len(stops) > 5 {
				break
			}
			stops = append(stops, at)
		}
		all := strings.Join(stops, "\n")
		if strings.Contains(all, "unseen") || !strings.Contains(all, target) || !strings.Contains(stops[0], "Skip to the content") {
			t.Errorf("%s: by keyboard:\n%s", path, all)
		}
	}
}

// TestWithoutScript acknowledges an alarm in a browser without scripts.
func TestWithoutScript(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	err := chromedp.Do(ctx,
		chromedp.Navigate(server.URL+"/alarms/quay.hall.co-short-term.1"),
		chromedp.SendKeys(chromedp.CSS(`form[action$="acknowledge"] input[name=by]`), "Kim"),
		chromedp.Submit(chromedp.CSS(`form[action$="acknowledge"] input[name=by]`)),
		chromedp.WaitVisible(chromedp.CSS(`#said:not(:empty)`)),
	)
	if err != nil {
		t.Fatal(err)
	}
	if a := w.last(t).Answer; a == nil || a.By != "Kim" {
		t.Errorf("written %+v", a)
	}
}

// TestPagesUpdateThemselves changes the world under an open page.
func TestPagesUpdateThemselves(t *testing.T) {
	var line atomic.Int64
	line.Store(1)
	begin := time.Now()
	w := newWorld(t, func(o *dashboards.Options) {
		o.Changed = line.Load
		o.Now = time.Now
		o.View = func() fold.View {
			v := fixedView()
			if line.Load() == 1 {
				v.Alarms = nil
			}
			for i := range v.Alarms {
				if v.Alarms[i].Kind == alarm.COCeiling {
					v.Alarms[i].State, v.Alarms[i].Acked, v.Alarms[i].Active = alarm.Unacknowledged, false, true
				}
			}
			if line.Load() == 3 {
				v.Alarms = slices.DeleteFunc(v.Alarms, func(a alarm.Alarm) bool { return a.Kind == alarm.COShortTerm })
			}
			v.At = reading.InstantOf(begin)
			return v
		}
	})
	server := httptest.NewServer(w.handler)
	defer server.Close()
	defer server.CloseClientConnections()
	ctx := browser(t)
	var said complaints
	said.listen(t, ctx)
	if err := chromedp.Do(ctx, chromedp.Navigate(server.URL+"/"), chromedp.WaitVisible(chromedp.CSS("#now-h"))); err != nil {
		t.Fatal(err)
	}
	waitFor(t, ctx, `performance.getEntriesByType("resource").length >= 0 && !document.querySelector(".live-only").hidden`)
	line.Store(2)
	waitFor(t, ctx, `document.querySelectorAll(".alarm.critical").length === 2 && document.getElementById("urgent").textContent.includes("procedure")`)
	if all := said.take(); len(all) > 0 {
		t.Errorf("the browser complains: %v", all)
	}
	name := `document.querySelector('.alarm form[action$="co-ceiling.1/acknowledge"] input[name=by]')`
	waitFor(t, ctx, `(window.before = document.querySelectorAll(".alarm").length) > 2 && (() => { const f = `+name+`; f.focus(); f.value = "Kim K"; f.setSelectionRange(3, 3); return true })()`)
	for _, next := range []int64{3, 4} { // an alarm goes, and comes again with a form above for both
		line.Store(next)
		waitFor(t, ctx, `document.querySelectorAll(".alarm").length `+map[int64]string{3: "<", 4: "==="}[next]+` window.before && `+
			name+`.value === "Kim K" && document.activeElement === `+name+` && `+name+`.selectionStart === 3`)
	}
	server.CloseClientConnections()
	server.Listener.Close()
	waitFor(t, ctx, `!document.getElementById("lost").hidden && /since \d\d:\d\d.* \S+: what stands here is old/.test(document.getElementById("lost").textContent)`)
}

func waitFor(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	wait := `new Promise(done => { const end = Date.now() + 20000; const look = () => (` + condition + `) ? done(true) : Date.now() > end ? done(false) : setTimeout(look, 100); look(); })`
	ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](wait, chromedp.EvalAwaitPromise))
	if err != nil || !ok {
		t.Fatalf("never: %s (%v)", condition, err)
	}
}
