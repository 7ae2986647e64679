package main

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"heaterd/config"
	"heaterd/dashboards"
	"heaterd/ingest/jobsite"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// demoStore keeps some hours of the demo's jobsites, as they would arrive.
func demoStore(t *testing.T, hours int) (text string, s *store.Store, end reading.Instant) {
	t.Helper()
	start := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))
	w, err := jobsite.NewWorld(jobsite.Demo(1, start))
	if err != nil {
		t.Fatal(err)
	}
	s = openStore(t, filepath.Join(t.TempDir(), "past.db"))
	var lines []record.Line
	for _, m := range w.Step(time.Duration(hours) * time.Hour) {
		if len(m.Samples) > 0 {
			lines = append(lines, record.Line{At: m.At, Pack: &reading.Pack{Node: reading.NodeID(m.Node), Samples: m.Samples, Within: m.Within}})
		}
	}
	for _, a := range w.Acts() {
		lines = append(lines, record.Line{At: a.At, Entry: a.Entry, Stop: a.Stop})
	}
	if _, err := s.Keep(t.Context(), store.Batch{Lines: lines}); err != nil {
		t.Fatal(err)
	}
	return w.FleetYAML(), s, w.Now()
}

func TestBacktestShowsWhatAChangeWouldHaveDone(t *testing.T) {
	text, s, end := demoStore(t, 3)
	cfg, err := config.Parse("now.yaml", []byte(text), config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := &daemon{cfg: cfg, store: s, clock: func() time.Time { return end.Time() }, log: silent}
	try := func(text string) dashboards.Backtest {
		t.Helper()
		b, err := d.backtest(context.Background(), 1, text)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	if b := try(text); len(b.More)+len(b.Fewer) > 0 || b.Same == 0 {
		t.Errorf("the same configuration: %d more, %d fewer, %d the same", len(b.More), len(b.Fewer), b.Same)
	}
	stricter := strings.Replace(text, `"uk-eh40"`, `{ ceiling_ppm: 2, source: test }`, 1)
	if stricter == text {
		t.Fatal("the demo's limits are written otherwise now")
	}
	b := try(stricter)
	found := false
	for _, a := range b.More {
		found = found || a.Kind == "co-ceiling" && a.Site == "mill"
	}
	if !found {
		t.Errorf("a ceiling of 2 ppm raises nothing more: %+v", b.More)
	}
	if _, err := d.backtest(context.Background(), 1, "version: 2"); err == nil {
		t.Error("a wrong configuration is tried")
	}
}
