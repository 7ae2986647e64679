package dashboards_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"heaterd/dashboards"
)

// TestARefusedFormComesBackAsItWasFilledIn: whoever stands beside a heater
// must not type it all again for one wrong figure.
func TestARefusedFormComesBackAsItWasFilledIn(t *testing.T) {
	with := func(kv ...string) url.Values {
		v := url.Values{"by": {"Kim"}}
		for i := 0; i < len(kv); i += 2 {
			v.Add(kv[i], kv[i+1])
		}
		return v
	}
	for _, c := range []struct {
		path string
		form url.Values
		want []string
	}{
		{"/heaters/H-07/refuel", with("amount", "2o", "note", "half a <can>", "when", "2026-01-14T09:00"), []string{
			`value="2o"`, `value="half a &lt;can&gt;"`, `value="2026-01-14T09:00"`, `name="by" value="Kim"`, `action="/heaters/H-07/refuel"`, "Heater H-07: Refuelled"}},
		{"/heaters/H-07/service", with("task", "photocell", "meter", "12", "found", "torn filter"), []string{
			`value="photocell" checked`, `value="service-500h">`, `value="12"`, `value="torn filter"`}},
		{"/heaters/H-07/look-over", with("check-leaks", "failed"), []string{`name="check-leaks" value="failed" checked`, `name="check-leaks" value="ok" required>`}},
		{"/heaters/H-07/planned-stop", with("for", "soon", "from", "2026-01-15T18:00", "note", "pour"), []string{`value="soon"`, `value="2026-01-15T18:00"`, `value="pour"`}},
		{"/heaters/H-07/fit-node", with("node", "n-08"), []string{`value="n-08"`}},
		{"/heaters/H-07/out-of-service", with("why", ""), []string{`action="/heaters/H-07/out-of-service"`}},
		{"/heaters/H-09%20%3Cb%3E&%22x%22/refuel", with("amount", "x"), []string{`value="x"`, `href="/heaters/H-09%20%3Cb%3E&amp;%22x%22"`}},
		{"/alarms/H-08.shutdown-unexplained.5/shelve", with("for", "soon", "why", "waits for a part"), []string{`value="soon"`, `value="waits for a part"`}},
		{"/alarms/quay.hall.co-ceiling.1/reset", with("why", "gas test"), []string{`value="gas test"`, `name="cleared" value="yes" required>`}},
	} {
		w := newWorld(t)
		rec := w.do("POST", c.path, c.form)
		if rec.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", c.path, rec.Code)
		}
		has(t, rec.Body.String(), append(c.want, `role="alert"`, "Nothing was written down")...)
	}
	rec := newWorld(t).do("POST", "/alarms/none.1/acknowledge", with())
	if strings.Contains(rec.Body.String(), "<form method") {
		t.Error("a form for an alarm that is not there")
	}
}

// TestAFormIsPutRightInABrowser fills a form in wrongly, as people do, and
// sends the one that comes back.
func TestAFormIsPutRightInABrowser(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	amount := chromedp.CSS(`form[action$="refuel"] input[name=amount]`)
	err := chromedp.Do(ctx,
		chromedp.Navigate(server.URL+"/heaters/H-07"),
		chromedp.Click(chromedp.CSS(`#do-refuel summary`)),
		chromedp.SendKeys(amount, "2o"),
		chromedp.SendKeys(chromedp.CSS(`form[action$="refuel"] input[name=note]`), "from the bowser"),
		chromedp.SendKeys(chromedp.CSS(`form[action$="refuel"] input[name=by]`), "Kim"),
		chromedp.Submit(amount),
		chromedp.WaitVisible(chromedp.CSS(`.wrong[role=alert]`)),
		chromedp.SetValue(amount, "20"),
		chromedp.Submit(amount),
		chromedp.WaitVisible(chromedp.CSS(`#said:not(:empty)`)),
	)
	if err != nil {
		t.Fatal(err)
	}
	if e := w.last(t).Entry; e == nil || e.Litres == nil || *e.Litres != 20 || e.Note != "from the bowser" || e.By != "Kim" {
		t.Errorf("written %+v", e)
	}
}

// TestARefusedPressLeadsBack: browsers must say from which page a form came,
// and say it to this server only.
func TestARefusedPressLeadsBack(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	err := chromedp.Do(ctx,
		chromedp.Navigate(server.URL+"/alarms/quay.hall.co-short-term.1"),
		chromedp.Submit(chromedp.CSS(`form[action$="acknowledge"] input[name=by]`)),
		chromedp.WaitVisible(chromedp.CSS(`main a[href="/alarms/quay.hall.co-short-term.1"]`)),
	)
	if err != nil {
		t.Fatal(err)
	}
}

// TestAFormOutlastsItsSession: the page stood open overnight, the look-over is
// filled in, and the session has ended.
func TestAFormOutlastsItsSession(t *testing.T) {
	w := newWorld(t, withUsers(t))
	form := url.Values{"amount": {"12,5"}, "unit": {"us"}, "note": {"from the \"bowser\""}}
	rec := w.do("POST", "/heaters/H-07/refuel", form, "Cookie", "units=us; session=old")
	if rec.Code != http.StatusUnauthorized || w.count() > 0 {
		t.Fatalf("status %d, %d lines", rec.Code, w.count())
	}
	has(t, rec.Body.String(), "Sign in", "nothing was written down yet", `name="to" value="/heaters/H-07/refuel"`, `name="next" value="/heaters/H-07"`)

	sign := url.Values{"name": {"user-technician"}, "password": {"wrong"}, "to": {"/heaters/H-07/refuel"}, "typed": {form.Encode()}}
	has(t, w.do("POST", "/login", sign).Body.String(), "is not right", `name="to" value="/heaters/H-07/refuel"`)
	sign.Set("password", "correct horse")
	rec = w.do("POST", "/login", sign, "Cookie", "units=us; session=old")
	if rec.Code != http.StatusOK || rec.Header().Get("Set-Cookie") == "" {
		t.Fatalf("status %d, cookie %q", rec.Code, rec.Header().Get("Set-Cookie"))
	}
	has(t, rec.Body.String(), "Not written down yet", `value="12,5"`, `value="from the &#34;bowser&#34;"`, "Filled in, gal", "user-technician", "Sign out")
	if strings.Contains(rec.Body.String(), "Your name") {
		t.Error("who signed in is asked for a name")
	}

	sign.Set("name", "user-viewer") // may not send it
	if rec = w.do("POST", "/login", sign); rec.Code != http.StatusSeeOther {
		t.Errorf("a viewer: status %d", rec.Code)
	}
	sign.Set("name", "user-technician")
	for _, to := range []string{"https://example.org/heaters/H-07/refuel", "//example.org/refuel", "/heaters/none/refuel", "/heaters/H-07/planned-stop-end", "%zz"} {
		sign.Set("to", to)
		if rec = newWorld(t, withUsers(t)).do("POST", "/login", sign); rec.Code != http.StatusSeeOther || rec.Header().Get("Location") != "/" {
			t.Errorf("%s: status %d to %q", to, rec.Code, rec.Header().Get("Location"))
		}
	}
	has(t, w.do("POST", "/alarms/quay.hall.co-short-term.1/acknowledge", url.Values{}).Body.String(), "Sign in, and do it again")
	if rec = w.do("POST", "/api/v1/entries", url.Values{}); rec.Header().Get("WWW-Authenticate") == "" {
		t.Error("a program is not told how to sign in")
	}
}

// TestARefusalNamesWhatWasTyped and what to write in its place.
func TestARefusalNamesWhatWasTyped(t *testing.T) {
	for _, c := range []struct{ path, field, typed, says string }{
		{"service", "meter", "413,7 h", "without a unit, such as 412.5, not &#34;413,7 h&#34;"},
		{"planned-stop", "for", "", "Say for how long"},
		{"planned-stop", "for", "2", "a number with its unit"},
		{"planned-stop", "until", "2026-01-14T14:00", "Until lies before now"},
	} {
		rec := newWorld(t).do("POST", "/heaters/H-07/"+c.path, url.Values{"by": {"Kim"}, c.field: {c.typed}})
		has(t, rec.Body.String(), c.says)
	}
}

// TestTheFormsAreAPressAway: on a telephone they stand some screens below the
// top, where the code on the label leads.
func TestTheFormsAreAPressAway(t *testing.T) {
	w := newWorld(t, func(o *dashboards.Options) { o.Changed = func() int64 { return 1 } })
	server := httptest.NewServer(w.handler)
	defer server.Close()
	defer server.CloseClientConnections()
	ctx := browser(t)
	err := chromedp.Do(ctx,
		chromedp.EmulateViewport(390, 844),
		chromedp.Navigate(server.URL+"/heaters/H-07"),
		chromedp.Click(chromedp.CSS(`a[href="#do-refuel"]`)),
		chromedp.WaitVisible(chromedp.CSS(`form[action$="refuel"] button`)),
	)
	if err != nil {
		t.Fatal(err)
	}
	waitFor(t, ctx, `(r => r.top >= 0 && r.bottom <= innerHeight)(document.querySelector('form[action$="refuel"] input[name=amount]').getBoundingClientRect())`)

	viewer := newWorld(t, withUsers(t)).do("GET", "/heaters/H-07", nil, "Authorization", "Bearer secret-viewer")
	if strings.Contains(viewer.Body.String(), "#do-refuel") {
		t.Error("a viewer is led to forms that are not there")
	}
}

// TestWhatIsOnlyShownIsNotCalledWrittenDown, a wrong day of a report among it;
// a filter that finds nothing stays to be put right.
func TestWhatIsOnlyShownIsNotCalledWrittenDown(t *testing.T) {
	w := newWorld(t)
	page := w.do("GET", "/reports/season?site=quay&from=2026-01-14&to=2026-01-01", nil).Body.String()
	has(t, page, "That cannot be shown", "must not be after the last")
	rec := w.do("GET", "/log?heater=H-7", nil)
	has(t, rec.Body.String(), "There is no heater &#34;H-7&#34;. Did you mean H-07?", `name="heater" value="H-7"`)
	if rec.Code != http.StatusNotFound || strings.Contains(rec.Body.String(), "Nothing logged yet") {
		t.Errorf("status %d: %s", rec.Code, clip(rec.Body.String()))
	}
	has(t, w.do("POST", "/alarms/quay.hall.co-ceiling.1/reset", url.Values{"by": {"Kim"}, "why": {"x"}}).Body.String(), "tick that it has")
}

// TestWhatWasDoneIsSaidOnce: a telephone loads its pages again by itself, and
// "Acknowledged." would stand over another alarm.
func TestWhatWasDoneIsSaidOnce(t *testing.T) {
	w := newWorld(t, func(o *dashboards.Options) { o.Changed = func() int64 { return 1 } })
	server := httptest.NewServer(w.handler)
	defer server.Close()
	defer server.CloseClientConnections()
	ctx := browser(t)
	if err := chromedp.Do(ctx, chromedp.Navigate(server.URL+"/alarms?said=acknowledge&page=1")); err != nil {
		t.Fatal(err)
	}
	waitFor(t, ctx, `location.search === "?page=1" && document.getElementById("said").textContent === "Acknowledged."`)
}

// TestAShelvingCutShortIsSaid: ten days were asked for, and one was given.
func TestAShelvingCutShortIsSaid(t *testing.T) {
	for long, word := range map[string]string{"10d": "said=shelve-short", "40d": "said=shelve-short", "2h": "said=shelve"} {
		w := newWorld(t)
		rec := w.do("POST", "/alarms/H-08.shutdown-unexplained.5/shelve", url.Values{"by": {"Kim"}, "why": {"waits for a part"}, "for": {long}})
		if to := rec.Header().Get("Location"); !strings.HasSuffix(to, word) {
			t.Errorf("shelved for %s: leads to %q", long, to)
		}
	}
	has(t, newWorld(t).page(t, "/alarms/H-08.shutdown-unexplained.5?said=shelve-short"), "not for as long as you asked")
}

// TestARefusalSpeaksOfTheAlarmBeforeThem: nobody knows an alarm by its id.
func TestARefusalSpeaksOfTheAlarmBeforeThem(t *testing.T) {
	for act, want := range map[string]string{
		"shelve": "This alarm cannot be shelved: it concerns the air", "reset": "This alarm is unacknowledged: the condition still holds",
	} {
		rec := newWorld(t).do("POST", "/alarms/quay.hall.co-short-term.1/"+act, url.Values{"by": {"Kim"}, "why": {"x"}, "for": {"2h"}, "cleared": {"yes"}})
		has(t, rec.Body.String(), "<h1>That cannot be done now</h1>", want)
	}
}

// TestGoingBackToARefusedFormFindsIt: whoever looks something up on another page
// comes back to what they had filled in, not to a question whether to send it.
func TestGoingBackToARefusedFormFindsIt(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.handler)
	defer server.Close()
	ctx := browser(t)
	amount := chromedp.CSS(`input[name=amount]`)
	err := chromedp.Do(ctx,
		chromedp.Navigate(server.URL+"/heaters/H-07"),
		chromedp.Click(chromedp.CSS(`#do-refuel summary`)),
		chromedp.SendKeys(chromedp.CSS(`form[action$="refuel"] input[name=by]`), "Kim"),
		chromedp.SendKeys(amount, "a can"),
		chromedp.Submit(amount),
		chromedp.WaitVisible(chromedp.CSS(`.wrong[role=alert]`)),
		chromedp.Click(chromedp.CSS(`nav a[href="/service"]`)),
		chromedp.WaitNotPresent(chromedp.CSS(`.wrong[role=alert]`)),
		chromedp.NavigateBack(),
		chromedp.WaitVisible(chromedp.CSS(`.wrong[role=alert]`)),
	)
	if err != nil {
		t.Fatal(err)
	}
	typed, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("input[name=amount]").value`))
	if err != nil || typed != "a can" {
		t.Errorf("back at the form it holds %q, %v", typed, err)
	}
}
