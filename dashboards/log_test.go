package dashboards_test

import (
	"encoding/json"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// TestPlannedStopsStandInTheLog checks that who finds a heater off at night
// sees who said so, and until when.
func TestPlannedStopsStandInTheLog(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Lit, v.Heaters[0].Stop, v.Heaters[0].StopUntil, v.Heaters[0].StopBy = false, true, instant(3*time.Hour), "Jo"
	w := newWorld(t, viewing(v))
	stop := record.Line{ID: 30, At: instant(-time.Hour), Stop: &record.PlannedStop{Heater: "H-07", For: 4 * time.Hour, By: "Jo", Note: "Painters in the hall."}}
	row, ok := ledger.RowOf(stop)
	if !ok {
		t.Fatal("a planned stop has no row")
	}
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 40, Entries: []ledger.EntryRow{row}}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/heaters/H-07", "/log", "/log?site=quay", "/log?heater=h-07", "/reports/service?heater=H-07"} {
		before(t, w.page(t, path), "<b>Planned stop</b>", "Wed 14 Jan 2026, 14:04 GMT", "by Jo", "Off until Wed 14 Jan 2026, 18:04 GMT", "Painters in the hall.")
	}
	has(t, w.page(t, "/heaters/H-07"), "planned stop</span> <span class=\"soft\">until Wed 14 Jan 18:04 GMT, as Jo said")
	if strings.Contains(w.page(t, "/log?site=mill"), "Planned stop</b>") {
		t.Error("the log of one site has a stop of another")
	}
	has(t, w.page(t, "/sites/quay"), `href="/log?site=quay"`)
	has(t, w.do("GET", "/reports/service?format=csv", nil).Body.String(), "planned-stop", "2026-01-14T18:04:00Z")
	has(t, w.do("GET", "/api/v1/entries", nil).Body.String(), `"task": "planned-stop"`, `"until": "2026-01-14T18:04:00Z"`)
	has(t, w.do("GET", "/api/v1/heaters/H-07", nil).Body.String(), `"planned_stop_until": "2026-01-14T18:04:00Z"`)
}

func TestAPlannedStopIsNoEntry(t *testing.T) {
	w := newWorld(t)
	r := newRequest("POST", "/api/v1/entries")
	r.Body = readCloser(`{"heater":"H-07","task":"planned-stop","by":"Kim"}`)
	r.Header.Set("Content-Type", "application/json")
	if rec := serve(w, r); rec.Code != 422 || w.count() > 0 {
		t.Errorf("status %d, %d lines", rec.Code, w.count())
	}
}

// TestPlannedStopsBeginWhenSaid fills in the form of a heater for tonight, for
// a time that was, and takes it back.
func TestPlannedStopsBeginWhenSaid(t *testing.T) {
	for name, c := range map[string]struct {
		form   url.Values
		status int
		want   record.PlannedStop
	}{
		"tonight":      {url.Values{"from": {"2026-01-14T18:00"}, "until": {"2026-01-16T06:00"}}, 303, record.PlannedStop{From: instant(176 * time.Minute), For: 36 * time.Hour}},
		"since a day":  {url.Values{"from": {"2026-01-13T15:00"}, "for": {"3d"}}, 303, record.PlannedStop{From: instant(-24*time.Hour - 4*time.Minute), For: 72 * time.Hour}},
		"until":        {url.Values{"until": {"2026-01-14T16:00"}, "for": {"2h"}}, 303, record.PlannedStop{For: 56 * time.Minute}},
		"no time":      {url.Values{"from": {"tonight"}, "for": {"2h"}}, 422, record.PlannedStop{}},
		"backwards":    {url.Values{"from": {"2026-01-14T18:00"}, "until": {"2026-01-14T17:00"}}, 422, record.PlannedStop{}},
		"too long":     {url.Values{"until": {"2026-03-14T17:00"}}, 422, record.PlannedStop{}},
		"long ago":     {url.Values{"from": {"2026-01-05T17:00"}, "for": {"1h"}}, 422, record.PlannedStop{}},
		"far ahead":    {url.Values{"from": {"2026-03-05T17:00"}, "for": {"1h"}}, 422, record.PlannedStop{}},
		"neither":      {url.Values{}, 422, record.PlannedStop{}},
		"clocks ahead": {url.Values{"from": {"2026-03-29T01:30"}, "for": {"1h"}}, 422, record.PlannedStop{}},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			c.form.Set("by", "Kim")
			if rec := w.do("POST", "/heaters/H-07/planned-stop", c.form); rec.Code != c.status {
				t.Fatalf("status %d: %s", rec.Code, rec.Body)
			}
			if c.status != 303 {
				return
			}
			if s := w.last(t).Stop; s == nil || s.From != c.want.From || s.For != c.want.For || s.By != "Kim" {
				t.Errorf("written %+v, want %+v", s, c.want)
			}
		})
	}
}

func TestPlannedStopsCanBeTakenBack(t *testing.T) {
	w := newWorld(t)
	if rec := w.do("POST", "/heaters/H-07/planned-stop-end", url.Values{"by": {"Kim"}}); rec.Code != 409 || w.count() > 0 {
		t.Errorf("none is to come: status %d, %d lines", rec.Code, w.count())
	}
	v := fixedView()
	v.Heaters[0].NextStop, v.Heaters[0].NextUntil, v.Heaters[0].NextBy = instant(3*time.Hour), instant(5*time.Hour), "Jo"
	w = newWorld(t, viewing(v))
	has(t, w.page(t, "/heaters/H-07"), "planned stop to come from Wed 14 Jan 18:04 GMT until Wed 14 Jan 20:04 GMT, as Jo said", "End the planned stop")
	has(t, w.do("GET", "/api/v1/heaters/H-07", nil).Body.String(), `"next_planned_stop": "2026-01-14T18:04:00Z"`)
	if rec := w.do("POST", "/heaters/H-07/planned-stop-end", url.Values{"by": {"Kim"}}); rec.Code != 303 {
		t.Fatalf("status %d: %s", rec.Code, rec.Body)
	}
	s := w.last(t).Stop
	if s == nil || !s.End || s.By != "Kim" {
		t.Fatalf("written %+v", s)
	}
	row, _ := ledger.RowOf(w.last(t))
	late, _ := ledger.RowOf(record.Line{ID: 90, At: instant(0), Stop: &record.PlannedStop{Heater: "H-07", From: instant(-20 * time.Hour), For: 30 * time.Hour, By: "Ann"}})
	row.Line = 91
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 99, Entries: []ledger.EntryRow{row, late}}); err != nil {
		t.Fatal(err)
	}
	has(t, w.page(t, "/log"), "<b>Planned stop ended</b>", "Off from Tue 13 Jan 2026, 19:04 GMT until Thu 15 Jan 2026, 01:04 GMT")
	has(t, w.do("GET", "/reports/service?format=csv", nil).Body.String(), "planned-stop-end", "2026-01-13T19:04:00Z")
}

// TestTheLogGoesOn opens the log before and after lines are written: what was
// done earlier stands in its own place, not where it was written.
func TestTheLogGoesOn(t *testing.T) {
	w := newWorld(t)
	write := func(line int64, note string, done time.Duration) {
		t.Helper()
		e := ledger.EntryRow{Line: line, At: instant(0), Entry: record.Entry{Heater: "H-07", Task: "nozzle", Note: note, Done: instant(done)}}
		if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: line, Entries: []ledger.EntryRow{e}}); err != nil {
			t.Fatal(err)
		}
	}
	for i := range int64(105) {
		write(200+i, "Of the morning.", -9*time.Hour)
	}
	if n := strings.Count(w.page(t, "/log"), "Of the morning."); n == 0 || n > 100 {
		t.Errorf("%d lines on the first page", n)
	}
	write(400, "Of noon.", -3*time.Hour)
	write(401, "Of the night.", -100*time.Hour)
	write(402, "Of an hour ago.", -time.Hour)
	before(t, w.page(t, "/log"), "Of an hour ago.", "Of noon.", "Of the morning.")
	has(t, w.page(t, "/log?page=2&heater=H-07"), "Of the morning.", "Of the night.")
	if strings.Contains(w.page(t, "/log?heater=H-08"), "Of noon.") {
		t.Error("the log of one heater has a line of another")
	}
}

// TestTheLogIsListedInParts asks for less of the service log than there is, and
// then for what came before it.
func TestTheLogIsListedInParts(t *testing.T) {
	w := newWorld(t)
	var rows []ledger.EntryRow
	for i := range 6 {
		rows = append(rows, ledger.EntryRow{Line: int64(50 + i), At: instant(time.Duration(i) * time.Minute),
			Entry: record.Entry{Heater: []string{"H-07", "H-08"}[i%2], Task: "nozzle", By: "Kim"}})
	}
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 60, Entries: rows}); err != nil {
		t.Fatal(err)
	}
	for query, want := range map[string][]int64{
		"limit=2": {54, 55}, "limit=2&before=54": {52, 53}, "limit=2&heater=H-07": {52, 54}, "limit=3&site=quay&before=55": {52, 53, 54},
	} {
		var got []struct{ Line int64 }
		if err := json.Unmarshal([]byte(w.page(t, "/api/v1/entries?"+query)), &got); err != nil {
			t.Fatal(err)
		}
		var lines []int64
		for _, e := range got {
			lines = append(lines, e.Line)
		}
		if !slices.Equal(lines, want) {
			t.Errorf("%s: %v, want %v", query, lines, want)
		}
	}
	for _, query := range []string{"limit=0", "limit=10001", "limit=some", "before=-1"} {
		if rec := w.do("GET", "/api/v1/entries?"+query, nil); rec.Code != 422 {
			t.Errorf("%s: %d", query, rec.Code)
		}
	}
}

// TestBurnsAreListedInParts asks for fewer burns than there are, and then for
// those that began before them.
func TestBurnsAreListedInParts(t *testing.T) {
	w := newWorld(t)
	burns := func(query string) (starts []reading.Instant) {
		t.Helper()
		var got []struct{ Start reading.Instant }
		if err := json.Unmarshal([]byte(w.page(t, "/api/v1/heaters/H-07/burns?"+query)), &got); err != nil {
			t.Fatal(err)
		}
		for _, b := range got {
			starts = append(starts, b.Start)
		}
		return starts
	}
	all := burns("")
	newest := burns("limit=3")
	older := burns("limit=3&to=" + newest[0].String())
	if n := len(all); n < 7 || !slices.Equal(newest, all[n-3:]) || !slices.Equal(older, all[n-6:n-3]) {
		t.Errorf("all %v, the newest three %v, those before %v", all, newest, older)
	}
	for _, query := range []string{"limit=0", "limit=10001", "limit=some"} {
		if rec := w.do("GET", "/api/v1/heaters/H-07/burns?"+query, nil); rec.Code != 422 {
			t.Errorf("%s: %d", query, rec.Code)
		}
	}
}
