package dashboards_test

import (
	"fmt"
	"testing"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/ingest/record"
)

// BenchmarkLog opens the newest page of a long service log, of all heaters and
// of one site.
func BenchmarkLog(b *testing.B) {
	w := newWorld(b)
	const lines = 20_000
	rows := make([]ledger.EntryRow, 0, lines)
	for i := range lines {
		e := record.Entry{Heater: []string{"H-07", "H-08"}[i%2], Task: "refuel", By: "Kim", Note: "Tank from the yard."}
		rows = append(rows, ledger.EntryRow{Line: int64(1000 + i), At: instant(time.Duration(i-lines) * time.Minute), Entry: e})
	}
	if err := w.opts.Ledger.Commit(b.Context(), ledger.Batch{Cursor: 1000 + lines, Entries: rows}); err != nil {
		b.Fatal(err)
	}
	for _, path := range []string{"/log", "/log?site=quay", "/log?page=150"} {
		b.Run(fmt.Sprintf("%q", path), func(b *testing.B) {
			w.page(b, path)
			for b.Loop() {
				w.page(b, path)
			}
		})
	}
}
