package dashboards_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/service"
	"heaterd/dashboards"
	"heaterd/ingest/record"
)

func TestAnswersBecomeLines(t *testing.T) {
	const stop, latched, co = "H-08.shutdown-unexplained.5", "quay.hall.co-ceiling.1", "quay.hall.co-short-term.1"
	by := url.Values{"by": {"Kim"}}
	with := func(kv ...string) url.Values {
		v := url.Values{"by": {"Kim"}}
		for i := 0; i < len(kv); i += 2 {
			v.Set(kv[i], kv[i+1])
		}
		return v
	}
	cases := []struct {
		name, path string
		form       url.Values
		status     int
		want       record.Answer // where a line is written
	}{
		{"acknowledge", "/alarms/" + co + "/acknowledge", by, 303, record.Answer{Act: record.Acknowledge, Alarm: co}},
		{"nameless", "/alarms/" + co + "/acknowledge", url.Values{}, 422, record.Answer{}},
		{"no such alarm", "/alarms/none.1/acknowledge", by, 404, record.Answer{}},
		{"shelve", "/alarms/" + stop + "/shelve", with("for", "2h", "why", "waiting for a part"), 303, record.Answer{Act: record.Shelve, Alarm: stop, For: 2 * time.Hour, Why: "waiting for a part"}},
		{"shelve without reason", "/alarms/" + stop + "/shelve", with("for", "2h"), 422, record.Answer{}},
		{"shelve for no time", "/alarms/" + stop + "/shelve", with("for", "soon", "why", "x"), 422, record.Answer{}},
		{"shelve what concerns people", "/alarms/" + co + "/shelve", with("for", "2h", "why", "noise"), 409, record.Answer{}},
		{"reset", "/alarms/" + latched + "/reset", with("cleared", "yes", "why", "gas test by the office"), 303, record.Answer{Act: record.Reset, Alarm: latched, Why: "gas test by the office"}},
		{"reset without the word", "/alarms/" + latched + "/reset", with("why", "looks fine"), 422, record.Answer{}},
		{"reset while it holds", "/alarms/" + co + "/reset", with("cleared", "yes", "why", "x"), 409, record.Answer{}},
		{"unshelve", "/alarms/mill.site-silent.1/unshelve", by, 303, record.Answer{Act: record.Unshelve, Alarm: "mill.site-silent.1"}},
		{"out of service", "/heaters/H-07/out-of-service", with("why", "cracked chamber"), 303, record.Answer{Act: record.OutOfService, Heater: "H-07", Why: "cracked chamber"}},
		{"no such heater", "/heaters/none/out-of-service", with("why", "x"), 404, record.Answer{}},
	}
	for _, way := range []string{"page", "api"} {
		for _, c := range cases {
			t.Run(way+" "+c.name, func(t *testing.T) {
				w := newWorld(t)
				path := c.path
				if way == "api" {
					path = "/api/v1" + path
				}
				rec := w.do("POST", path, c.form)
				if way == "api" && c.status == http.StatusSeeOther {
					c.status = http.StatusOK
				}
				if rec.Code != c.status {
					t.Fatalf("status %d, want %d: %s", rec.Code, c.status, clip(rec.Body.String()))
				}
				if c.want.Act == "" {
					if w.count() > 0 {
						t.Error("a line was written all the same")
					}
					return
				}
				c.want.By, c.want.Role, c.want.From = "Kim", "safety", way+" 192.0.2.1"
				if got := w.last(t).Answer; got == nil || *got != c.want {
					t.Errorf("written %+v, want %+v", got, c.want)
				}
			})
		}
	}
}

func TestEntriesBecomeLines(t *testing.T) {
	allOK := url.Values{"by": {"Kim"}}
	for _, c := range service.LookOver() {
		allOK.Set("check-"+c.ID, "ok")
	}
	oneBad := url.Values{}
	for k, v := range allOK {
		oneBad[k] = v
	}
	oneBad.Set("check-leaks", "failed")
	halfDone := url.Values{"by": {"Kim"}, "check-leaks": {"ok"}}
	cases := []struct {
		name, path string
		form       url.Values
		status     int
		check      func(e record.Entry) bool
	}{
		{"look-over", "look-over", allOK, 303, func(e record.Entry) bool { return e.Task == "look-over" && e.Found == "" }},
		{"look-over with a fault", "look-over", oneBad, 303, func(e record.Entry) bool { return e.Found == "leaks" }},
		{"look-over half done", "look-over", halfDone, 422, nil},
		{"service", "service", url.Values{"by": {"Kim"}, "task": {"service-500h", "photocell"}, "meter": {"912,5"}, "found": {"torn filter"}}, 303,
			func(e record.Entry) bool {
				return e.Task == "service-500h" && len(e.Tasks) == 1 && e.Tasks[0] == "photocell" && *e.MeterH == 912.5 && e.Found == "torn filter"
			}},
		{"meter alone", "service", url.Values{"by": {"Kim"}, "meter": {"912.5"}}, 303, func(e record.Entry) bool { return e.Task == "meter" }},
		{"nothing ticked", "service", url.Values{"by": {"Kim"}}, 422, nil},
		{"look-over ticked off unread", "service", url.Values{"by": {"Kim"}, "task": {"look-over"}}, 422, nil},
		{"unknown task", "service", url.Values{"by": {"Kim"}, "task": {"polish"}}, 422, nil},
		{"meter set back", "service", url.Values{"by": {"Kim"}, "meter": {"12"}}, 422, nil},
		{"meter really set back", "service", url.Values{"by": {"Kim"}, "meter": {"12"}, "sure": {"yes"}}, 303, func(e record.Entry) bool { return *e.MeterH == 12 }},
		{"another heater's node", "fit-node", url.Values{"by": {"Kim"}, "node": {"n-08"}}, 422, nil},
		{"another heater's node, taken off", "fit-node", url.Values{"by": {"Kim"}, "node": {"n-08"}, "sure": {"yes"}}, 303, func(e record.Entry) bool { return e.Node == "n-08" }},
		{"mad meter", "service", url.Values{"by": {"Kim"}, "meter": {"NaN"}}, 422, nil},
		{"refuel of nothing", "refuel", url.Values{"by": {"Kim"}, "amount": {"0"}}, 422, nil},
		{"refuel", "refuel", url.Values{"by": {"Kim"}, "amount": {"30"}, "unit": {"metric"}}, 303, func(e record.Entry) bool { return *e.Litres == 30 }},
		{"refuel in gallons", "refuel", url.Values{"by": {"Kim"}, "amount": {"10"}, "unit": {"us"}}, 303, func(e record.Entry) bool { return *e.Litres == 37.85411784 }},
		{"to the brim", "refuel", url.Values{"by": {"Kim"}}, 303, func(e record.Entry) bool { return e.Task == "refuel" && e.Litres == nil }},
		{"more than the tank", "refuel", url.Values{"by": {"Kim"}, "amount": {"200"}}, 422, nil},
		{"fit node", "fit-node", url.Values{"by": {"Kim"}, "node": {"n-99"}}, 303, func(e record.Entry) bool { return e.Task == "fit-node" && e.Node == "n-99" }},
		{"fit no node", "fit-node", url.Values{"by": {"Kim"}}, 422, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			rec := w.do("POST", "/heaters/H-07/"+c.path, c.form)
			if rec.Code != c.status {
				t.Fatalf("status %d, want %d: %s", rec.Code, c.status, clip(rec.Body.String()))
			}
			if c.check == nil {
				if w.count() > 0 {
					t.Error("a line was written all the same")
				}
				return
			}
			if e := w.last(t).Entry; e == nil || e.Heater != "H-07" || e.By != "Kim" || !c.check(*e) {
				t.Errorf("written %+v", e)
			}
		})
	}
}

func TestPlannedStop(t *testing.T) {
	w := newWorld(t)
	if rec := w.do("POST", "/heaters/H-07/planned-stop", url.Values{"by": {"Kim"}, "for": {"3d"}}); rec.Code != 303 {
		t.Fatalf("status %d", rec.Code)
	}
	if s := w.last(t).Stop; s == nil || s.For != 72*time.Hour || s.By != "Kim" {
		t.Errorf("written %+v", s)
	}
}

func TestEntriesThroughTheAPI(t *testing.T) {
	w := newWorld(t, withUsers(t))
	send := func(path, body string) int {
		r := newRequest("POST", path)
		r.Body = http.NoBody
		if body != "" {
			r.Body = readCloser(body)
		}
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Authorization", "Bearer secret-technician")
		return serve(w, r).Code
	}
	for body, want := range map[string]int{
		`{"heater":"H-07","task":"refuel","litres":20,"by":"Kim"}`: 201,
		`{"heater":"H-07","task":"polish"}`:                        422,
		`{"heater":"none","task":"refuel"}`:                        404,
		`{"heater":"H-07","task":"refuel","colour":"red"}`:         400,
		`{"heater":"H-07","task":"refuel"} trailing`:               400,
		`[]`: 400,
	} {
		if got := send("/api/v1/entries", body); got != want {
			t.Errorf("%s: %d, want %d", body, got, want)
		}
	}
	if e := w.last(t).Entry; e.By != "Kim by token-technician" {
		t.Errorf("the entry is by %q", e.By)
	}
	if got := send("/api/v1/planned-stops", `{"heater":"H-07","for":"2h"}`); got != 201 {
		t.Errorf("planned stop: %d", got)
	}
}

// TestAnActShowsOnThePageThatFollows checks that a form waits until the alarm
// loop has read its line.
func TestAnActShowsOnThePageThatFollows(t *testing.T) {
	asked := 0
	w := newWorld(t, func(o *dashboards.Options) {
		o.Changed = func() int64 { asked++; return int64(asked / 5) }
	})
	w.do("POST", "/alarms/quay.hall.co-short-term.1/acknowledge", url.Values{"by": {"Kim"}})
	if asked < 5 {
		t.Errorf("the loop's progress was looked at %d times, want until it reached line 1", asked)
	}
}

func TestNamesAreRemembered(t *testing.T) {
	w := newWorld(t)
	rec := w.do("POST", "/heaters/H-07/refuel", url.Values{"by": {"Zoë \"K\"; x"}})
	var cookies []string
	for _, c := range rec.Result().Cookies() {
		cookies = append(cookies, c.Name+"="+c.Value)
	}
	page := w.do("GET", "/heaters/H-07", nil, "Cookie", strings.Join(cookies, "; ")).Body.String()
	has(t, page, `value="Zoë &#34;K&#34;; x"`)
}

func TestLocalPathsOnly(t *testing.T) {
	for in, want := range map[string]string{
		"/alarms": "/alarms", "/heaters/H-07?range=7d": "/heaters/H-07?range=7d", "https://elsewhere.example/": "/",
		"//elsewhere.example": "/", `/\elsewhere.example`: "/", "javascript:alert(1)": "/", "": "/", "/\telsewhere": "/",
	} {
		if got := dashboards.LocalPath(in, "/"); got != want {
			t.Errorf("%q leads to %q, want %q", in, got, want)
		}
	}
}

func TestDurations(t *testing.T) {
	for in, want := range map[string]time.Duration{"30m": 30 * time.Minute, " 2h ": 2 * time.Hour, "3d": 72 * time.Hour, "0.5d": 12 * time.Hour, "": 0, "-1h": 0, "9999999d": 0, "d": 0, "1e300d": 0,
		"2 h": 2 * time.Hour, "90 min": 90 * time.Minute, "3 Days": 72 * time.Hour, "1,5 hours": 90 * time.Minute, "1h30m": 90 * time.Minute, "1 hour, 30 minutes": 90 * time.Minute,
		"2": 0, "0h": 0, "2 weeks": 0, "2hm": 0, "32d": 0, "30d 25h": 0, strings.Repeat("9", 400) + "h": 0} {
		got, err := dashboards.Duration(in)
		if got != want && err == nil || (err != nil) != (want == 0) {
			t.Errorf("%q: %v, %v, want %v", in, got, err, want)
		}
	}
}

// One event in a space makes several alarms; one form acknowledges them, each
// on its own in the record.
func TestAllAlarmsOfASpaceAtOnce(t *testing.T) {
	v := fixedView()
	for i := range v.Alarms {
		if a := &v.Alarms[i]; a.Kind == alarm.COCeiling {
			a.State, a.Acked, a.Active = alarm.Unacknowledged, false, true
		}
	}
	w := newWorld(t, viewing(v))
	page := w.do("GET", "/", nil).Body.String()
	has(t, page, "Acknowledge all 2 of this space")
	const one, other = "quay.hall.co-short-term.1", "quay.hall.co-ceiling.1"
	if rec := w.do("POST", "/alarms/"+one+"/acknowledge", url.Values{"by": {"Kim"}, "also": {other}}); rec.Code != http.StatusSeeOther {
		t.Fatal(rec.Code, clip(rec.Body.String()))
	}
	var acked []string
	for _, l := range w.lines {
		if l.Answer != nil && l.Answer.By == "Kim" {
			acked = append(acked, l.Answer.Alarm)
		}
	}
	if !slices.Equal(acked, []string{one, other}) {
		t.Errorf("acknowledged %v", acked)
	}
}

// One of them that ended meanwhile, or that another person saw to, holds up
// none of the others.
func TestAllAlarmsOfASpaceButOne(t *testing.T) {
	const over, shelved, waits = "none.1", "mill.site-silent.1", "quay.hall.co-short-term.1"
	for _, c := range []struct {
		first, also string
		status      int
	}{{over, waits, http.StatusSeeOther}, {waits, over, http.StatusSeeOther}, {shelved, waits, http.StatusSeeOther}, {over, over, http.StatusNotFound}} {
		w := newWorld(t)
		rec := w.do("POST", "/alarms/"+c.first+"/acknowledge", url.Values{"by": {"Kim"}, "also": {shelved, c.also}})
		if rec.Code != c.status {
			t.Errorf("%s and %s: status %d, want %d: %s", c.first, c.also, rec.Code, c.status, clip(rec.Body.String()))
		}
		if done := w.count() == 1 && w.lines[0].Answer.Alarm == waits; done != (c.status == http.StatusSeeOther) {
			t.Errorf("%s and %s: %d acknowledged, want one: %s", c.first, c.also, w.count(), waits)
		}
	}
}

// After a start the engine knows nothing yet, and people were told before.
func TestAnswersBeforeTheEngineKnows(t *testing.T) {
	v := fixedView()
	v.At, v.Alarms = 0, nil
	for path, more := range map[string]url.Values{
		"/alarms/quay.hall.co-short-term.1/acknowledge":        {},
		"/api/v1/alarms/quay.hall.co-short-term.1/acknowledge": {},
		"/heaters/H-07/out-of-service":                         {"why": {"cracked chamber"}},
	} {
		w := newWorld(t, viewing(v))
		more.Set("by", "Kim")
		if rec := w.do("POST", path, more); rec.Code >= http.StatusBadRequest || w.count() != 1 {
			t.Errorf("%s: status %d, %d lines: %s", path, rec.Code, w.count(), clip(rec.Body.String()))
		}
	}
}
