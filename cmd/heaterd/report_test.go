package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// TestReportOfASiteThatIsGone checks that a site which the configuration has no
// more is reported from the store alone.
func TestReportOfASiteThatIsGone(t *testing.T) {
	dir := written(t, map[string]string{"now.yaml": smallSite})
	s, err := store.Open(t.Context(), filepath.Join(dir, "heaterd.db"), discard(), ledger.Migrations)
	if err != nil {
		t.Fatal(err)
	}
	from := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))
	yard := []fleet.Heater{{ID: "Y-01", Node: "y-01", Site: "yard", Space: "shed"}}
	if err := ledger.New(s).Place(t.Context(), from, yard); err != nil {
		t.Fatal(err)
	}
	var lines []record.Line
	for i := range 60 {
		at := from.AddSeconds(float64(i) * 60)
		x := reading.Sample{At: at, Has: reading.CO, CO: 41}
		lines = append(lines, record.Line{At: at, Pack: &reading.Pack{Node: "y-01", Samples: []reading.Sample{x}}})
	}
	if _, err := s.Append(t.Context(), lines); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	args := []string{"report", "exposure", "--config", filepath.Join(dir, "now.yaml"), "--site", "yard", "--space", "shed"}
	status, out, errs := invoke(t.Context(), args...)
	if status != 0 || !strings.Contains(out, "<td>41") || !strings.Contains(out, "in the configuration no more") {
		t.Errorf("status %d, %s%.600s", status, errs, out)
	}
	if status, _, errs = invoke(t.Context(), append(args, "--space", "none")...); status != 1 || !strings.Contains(errs, "no space") {
		t.Errorf("a space that never was: status %d, %s", status, errs)
	}
	if status, _, errs = invoke(t.Context(), append(args, "--out", filepath.Join(dir, "none", "report.html"))...); status != 1 || !strings.Contains(errs, "cannot write the report: open ") {
		t.Errorf("a folder that is not there: status %d, %s", status, errs)
	}
}
