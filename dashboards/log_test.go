package dashboards_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/dashboards"
	"heaterd/ingest/record"
)

// TestPlannedStopsStandInTheLog checks that who finds a heater off at night
// sees who said so, and until when.
func TestPlannedStopsStandInTheLog(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Lit, v.Heaters[0].Stop, v.Heaters[0].StopUntil, v.Heaters[0].StopBy = false, true, instant(3*time.Hour), "Jo"
	w := newWorld(t, func(o *dashboards.Options) { o.View = func() fold.View { return v } })
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
