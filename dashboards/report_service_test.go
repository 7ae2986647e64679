package dashboards_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/ingest/record"
)

// TestTheServiceRecordOfAMonth asks for what was done in some days, by when it
// was done: a visit written down late belongs to its own day.
func TestTheServiceRecordOfAMonth(t *testing.T) {
	w := newWorld(t)
	row := func(line int64, at time.Duration, note string, done time.Duration) ledger.EntryRow {
		e := ledger.EntryRow{Line: line, At: instant(at), Entry: record.Entry{Heater: "H-07", Task: "nozzle", By: "Kim", Note: note}}
		if done != 0 {
			e.Entry.Done = instant(done)
		}
		return e
	}
	const day = 24 * time.Hour
	rows := []ledger.EntryRow{row(70, -40*day, "In December.", 0), row(71, -12*day, "Late word.", -15*day), row(72, -5*day, "In January.", 0)}
	if err := w.opts.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 80, Entries: rows}); err != nil {
		t.Fatal(err)
	}
	december := "/reports/service?heater=h-07&from=2025-12-01&to=2025-12-31"
	page := w.page(t, december)
	has(t, page, "Service record of heater H-07", "1 to 31 Dec 2025, days in GMT (Europe/Dublin)", "In December.", "Late word.", `name="from" value="2025-12-01"`)
	if strings.Contains(page, "In January.") {
		t.Error("the record of December has an entry of January")
	}
	before(t, page, "Done</h2>", "In December.", "Where it stands now</h2>")
	csv := w.page(t, december+"&format=csv")
	if has(t, csv, "Late word."); strings.Contains(csv, "In January.") {
		t.Error("so has its CSV")
	}
	has(t, w.page(t, "/reports/service?heater=H-07&from=2025-11-01&to=2025-11-02"), "Nothing was written down for these days.")
	has(t, w.page(t, "/reports/service?heater=H-07"), "In December.", "In January.")
	has(t, w.page(t, "/reports"), `action="/reports/service"`, `name="from" value="2025-12-01"`, `name="to" value="2025-12-31"`)
	for query, status := range map[string]int{"heater=H-7": 404, "from=2025-12-31&to=2025-12-01": 422, "from=yesterday": 422} {
		if rec := w.do("GET", "/reports/service?"+query, nil); rec.Code != status {
			t.Errorf("%s: %d, want %d", query, rec.Code, status)
		}
	}
}
