package dashboards_test

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/dashboards"
	"heaterd/ingest/record"
)

// clockAt lets the pages run at another moment.
func clockAt(now time.Time) func(*dashboards.Options) {
	return func(o *dashboards.Options) { o.Now = func() time.Time { return now } }
}

func TestWhenItWasDone(t *testing.T) {
	spring := time.Date(2026, 3, 29, 12, 0, 0, 0, time.UTC)  // clocks in Dublin went forward at 1:00
	autumn := time.Date(2026, 10, 25, 12, 0, 0, 0, time.UTC) // and back at 2:00 there
	for _, c := range []struct {
		name, when string
		now        time.Time
		want       string // UTC; empty: now
		refused    string
	}{
		{"left empty", "", at, "", ""},
		{"this morning", "2026-01-14T07:30", at, "2026-01-14T07:30:00Z", ""},
		{"with seconds", "2026-01-14T07:30:15", at, "2026-01-14T07:30:15Z", ""},
		{"a week ago", "2026-01-07T15:04", at, "2026-01-07T15:04:00Z", ""},
		{"longer ago", "2026-01-07T15:03", at, "", "up to 7 days"},
		{"in the future", "2026-01-14T15:05", at, "", "later than now: there it is only Wed 14 Jan 2026, 15:04 GMT"},
		{"no time", "yesterday", at, "", "must be a date and a time"},
		{"before clocks went forward", "2026-03-29T00:30", spring, "2026-03-29T00:30:00Z", ""},
		{"while clocks went forward", "2026-03-29T01:30", spring, "", "put forward"},
		{"after clocks went forward", "2026-03-29T02:30", spring, "2026-03-29T01:30:00Z", ""},
		{"shown once before clocks went back", "2026-10-25T00:30", autumn, "2026-10-24T23:30:00Z", ""},
		{"shown twice: the earlier", "2026-10-25T01:30", autumn, "2026-10-25T00:30:00Z", ""},
		{"shown once after", "2026-10-25T02:30", autumn, "2026-10-25T02:30:00Z", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t, clockAt(c.now))
			rec := w.do("POST", "/heaters/H-07/refuel", url.Values{"by": {"Kim"}, "when": {c.when}})
			if c.refused != "" {
				if has(t, rec.Body.String(), c.refused); rec.Code != 422 || w.count() > 0 {
					t.Errorf("status %d, %d lines", rec.Code, w.count())
				}
				return
			}
			e := w.last(t).Entry
			if got := e.Done; rec.Code != 303 || c.want == "" && got != 0 || c.want != "" && got.String() != c.want {
				t.Errorf("status %d, done %v, want %q", rec.Code, got, c.want)
			}
		})
	}
}

func TestTheZoneIsTheSites(t *testing.T) {
	w := newWorld(t)
	w.do("POST", "/heaters/M-01/refuel", url.Values{"by": {"Kim"}, "when": {"2026-01-14T08:00"}})
	if got := w.last(t).Entry.Done.String(); got != "2026-01-14T14:00:00Z" { // Chicago
		t.Errorf("done %s", got)
	}
	has(t, w.page(t, "/heaters/M-01"), `type="datetime-local" name="when"`, "by the clocks in America/Chicago, up to 7 days back")
}

func TestAMeterReadLongAgoMayShowLess(t *testing.T) {
	w := newWorld(t)
	form := url.Values{"by": {"Kim"}, "meter": {"100"}}
	if rec := w.do("POST", "/heaters/H-07/service", form); rec.Code != 422 {
		t.Errorf("read now: status %d", rec.Code)
	}
	form.Set("when", "2026-01-13T15:04")
	if rec := w.do("POST", "/heaters/H-07/service", form); rec.Code != 303 {
		t.Errorf("read a day ago: status %d", rec.Code)
	}
}

func TestProgramsSayWhenItWasDone(t *testing.T) {
	post := func(body string) (int, *world) {
		w := newWorld(t)
		r := newRequest("POST", "/api/v1/entries")
		r.Body = readCloser(body)
		r.Header.Set("Content-Type", "application/json")
		return serve(w, r).Code, w
	}
	code, w := post(`{"heater":"H-07","task":"refuel","by":"Kim","done_at":"2026-01-14T09:00:00+01:00"}`)
	if code != 201 || w.last(t).Entry.Done.String() != "2026-01-14T08:00:00Z" {
		t.Errorf("status %d, done %v", code, w.last(t).Entry.Done)
	}
	for _, when := range []string{"2026-01-14T15:05:00Z", "2026-01-07T15:03:00Z", "soon"} {
		if code, w := post(`{"heater":"H-07","task":"refuel","by":"Kim","done_at":"` + when + `"}`); code < 400 || w.count() > 0 {
			t.Errorf("done %s: status %d, %d lines", when, code, w.count())
		}
	}
	if code, _ := post(`{"heater":"H-07","task":"fit-node","node":"n-9","by":"Kim","done_at":"2026-01-14T08:00:00Z"}`); code != 422 {
		t.Errorf("a node fitted this morning: status %d", code)
	}
}

// TestTheLogIsInOrderOfWork checks that work stands at its own time, with the
// time of writing beside it where the two lie apart.
func TestTheLogIsInOrderOfWork(t *testing.T) {
	w := newWorld(t)
	entry := func(line int64, written, done time.Duration, note string) ledger.EntryRow {
		e := record.Entry{Heater: "H-07", Task: "refuel", By: "Kim", Note: note}
		if done != 0 {
			e.Done = instant(done)
		}
		return ledger.EntryRow{Line: line, At: instant(written), Entry: e}
	}
	b := ledger.Batch{Cursor: 40, Entries: []ledger.EntryRow{
		entry(31, -10*time.Hour, 0, "second to come"), entry(32, -time.Hour, -12*time.Hour, "first to come"), entry(33, -30*time.Minute, -32*time.Minute, "third to come"),
	}}
	if err := w.opts.Ledger.Commit(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	page := w.page(t, "/log")
	before(t, page, "third to come", "second to come", "Wed 14 Jan 2026, 03:04 GMT", "written down Wed 14 Jan 2026, 14:04 GMT", "first to come")
	if n := strings.Count(page, "written down"); n != 1 {
		t.Errorf("%d entries show when they were written down, want 1", n)
	}
	csv := w.do("GET", "/reports/service?format=csv", nil).Body.String()
	has(t, csv, "done_at_utc", "2026-01-14T14:04:00Z", "2026-01-14T03:04:00Z")
	has(t, w.do("GET", "/api/v1/entries?heater=H-07", nil).Body.String(), `"done_at": "2026-01-14T03:04:00Z"`)
}
