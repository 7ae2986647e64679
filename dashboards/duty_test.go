package dashboards_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/notify"
	"heaterd/dashboards"
)

func withDuty(d notify.OnCall) func(*dashboards.Options) {
	return func(o *dashboards.Options) { o.OnCall = func(time.Time) notify.OnCall { return d } }
}

func TestWhoIsOnCallIsSaid(t *testing.T) {
	w := newWorld(t)
	for _, page := range []string{"/", "/alarms"} {
		has(t, w.page(t, page), "On call now: <b>Kim</b> until Mon 19 Jan 08:04 GMT; then Jo until Mon 26 Jan 08:04 GMT.")
	}
	before(t, w.page(t, "/alarms"), "At once: Kim", "After 10 min without an answer: Jo", "After 20 min without an answer: Kim, Jo")
	has(t, w.do("GET", "/api/v1/on-call", nil).Body.String(), `"person": "Kim"`, `"from": "2026-01-19T08:04:00Z"`, `"after_s": 600`, `"fallback": "Kim"`)
}

// TestAGapIsShouted checks that every page says when nobody is on call.
func TestAGapIsShouted(t *testing.T) {
	d := fixedDuty()
	d.Turns[0].Name = ""
	w := newWorld(t, withDuty(d))
	for _, page := range []string{"/", "/alarms", "/heaters/H-07", "/sites/quay", "/service", "/log"} {
		has(t, w.page(t, page), `class="trouble"`, "Nobody is on call until Mon 19 Jan 08:04 GMT: alarms go to Kim.")
	}
	has(t, w.do("GET", "/api/v1/on-call", nil).Body.String(), `"person": null`)
	d = fixedDuty()
	d.Turns[1].Name = ""
	w = newWorld(t, withDuty(d))
	page := w.page(t, "/alarms")
	has(t, page, "Nobody will be on call from Mon 19 Jan 08:04 GMT to Mon 26 Jan 08:04 GMT: alarms go to Kim then.")
	if strings.Contains(page, "Nobody is on call") {
		t.Error("a gap in the days to come is shouted as one that is there")
	}
}

func TestWithoutARotaItSaysWhoIsTold(t *testing.T) {
	w := newWorld(t, withDuty(notify.OnCall{}))
	has(t, w.page(t, "/"), "No alarm is told to anybody")
	w = newWorld(t, withDuty(notify.OnCall{Told: true, Fallback: "Kim", Steps: []notify.Telling{{Who: "everyone", Names: []string{"Kim", "Jo"}}, {Who: "site"}}}))
	has(t, w.page(t, "/alarms"), "There is no rota", "At once: Kim, Jo", "At once: the contacts of the alarm")
	w = newWorld(t, withDuty(notify.OnCall{Told: true, Rota: true, Unread: true, Fallback: "Kim"}))
	has(t, w.page(t, "/heaters/H-07"), "the calendar cannot be read: alarms go to Kim.")
}

// TestACalendarThatCannotBeReadAnyMoreIsSaid: who is on call may be old.
func TestACalendarThatCannotBeReadAnyMoreIsSaid(t *testing.T) {
	d := fixedDuty()
	d.Stale, d.Why = instant(-time.Hour).Time(), "cannot fetch the calendar: calendars.example.org answered 503"
	w := newWorld(t, withDuty(d))
	for _, path := range []string{"/", "/heaters/H-07"} {
		has(t, w.page(t, path), "The calendar of who is on call cannot be read since Wed 14 Jan 14:04 GMT: what it said before still counts", "answered 503")
	}
	has(t, w.page(t, "/api/v1/on-call"), `"calendar_unread_since": "2026-01-14T14:04:00Z"`, `"rota": true`)
}

// TestNobodyUnknownSeesTheRota checks that names of people need signing in.
func TestNobodyUnknownSeesTheRota(t *testing.T) {
	d := fixedDuty()
	d.Turns[0].Name = ""
	w := newWorld(t, withUsers(t), withDuty(d))
	for _, path := range []string{"/", "/login", "/a/none", "/nowhere", "/api/v1/on-call"} {
		if body := w.do("GET", path, nil).Body.String(); strings.Contains(body, "Kim") || strings.Contains(body, "Jo") {
			t.Errorf("%s names people to whoever asks", path)
		}
	}
}
