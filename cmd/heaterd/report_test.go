package main

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
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
	s := openStore(t, filepath.Join(dir, "heaterd.db"))
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
	if _, err := s.Keep(t.Context(), store.Batch{Lines: lines}); err != nil {
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

// TestReportGoesByTheConfiguration checks that a report says what the page would:
// by the season and the people of the configuration.
func TestReportGoesByTheConfiguration(t *testing.T) {
	dir := written(t, map[string]string{"now.yaml": smallSite + `season: { begins: 09-15 }
notify: { channels: [{ id: mail, mail: { server: "smtp://127.0.0.1:1", from: a@example.org } }] }
on_call: { people: [{ id: mara, name: Mara of the yard, channels: [mail], address: b@example.org }], fallback: mara }
`})
	s := openStore(t, filepath.Join(dir, "heaterd.db"))
	at := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))
	seen := alarm.Transition{At: at, To: alarm.Acknowledged, By: "mara", Where: "link", Alarm: alarm.Alarm{ID: "a", Seq: 1, Key: alarm.Key{Kind: alarm.FuelLow, Site: "quay"}}}
	line := record.Line{At: at, Pack: &reading.Pack{Node: "n-07", Samples: []reading.Sample{{At: at, Has: reading.CO}}}}
	_, appended := s.Keep(t.Context(), store.Batch{Lines: []record.Line{line}})
	if err := errors.Join(appended, ledger.New(s).Commit(t.Context(), ledger.Batch{Transitions: []alarm.Transition{seen}}), s.Close()); err != nil {
		t.Fatal(err)
	}
	for kind, want := range map[string]string{"season": "15 Sep 2025 to 12 Jan 2026", "alarms": "Mara of the yard"} {
		status, out, errs := invoke(t.Context(), "report", kind, "--config", filepath.Join(dir, "now.yaml"))
		if status != 0 || !strings.Contains(out, want) {
			t.Errorf("%s: status %d, without %q: %s%s", kind, status, want, errs, out)
		}
		for _, elsewhere := range []string{"/static/", "<nav", "No users are configured", `href="/`} {
			if strings.Contains(out, elsewhere) {
				t.Errorf("%s: the file needs a daemon for %q", kind, elsewhere)
			}
		}
		if !strings.Contains(out, "--critical: #b1121c;") || !strings.Contains(out, ".noprint { display: none; }</style>") {
			t.Errorf("%s: the file has no style of its own", kind)
		}
	}
}
