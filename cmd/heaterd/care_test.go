package main

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"heaterd/alerts"
	"heaterd/alerts/fold"
	"heaterd/config"
	"heaterd/dashboards/history"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// careDaemon is a daemon with a store of three days of one node, all of it
// folded, and nothing else.
func careDaemon(t *testing.T) (d *daemon, now reading.Instant) {
	t.Helper()
	clock := time.Date(2026, 1, 12, 12, 0, 0, 0, time.UTC)
	d = &daemon{cfg: &config.Config{}, log: silent, clock: func() time.Time { return clock }}
	d.cfg.Store.Path, d.cfg.Store.Quarantine = filepath.Join(t.TempDir(), "h.db"), 100
	if err := d.openStore(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = d.store.Close() })
	now = reading.InstantOf(clock)
	var lines []record.Line
	for at := now.Add(-72 * time.Hour); at < now; at = at.Add(5 * time.Minute) {
		x := reading.Sample{At: at, Has: reading.CO, CO: 4}
		lines = append(lines, record.Line{At: at, Pack: &reading.Pack{Node: "n-0", Samples: []reading.Sample{x}}})
	}
	if _, err := d.store.Keep(t.Context(), store.Batch{Lines: lines}); err != nil {
		t.Fatal(err)
	}
	d.follow(t, 1)
	return d, now
}

// follow folds the log to its end, for so many heaters.
func (d *daemon) follow(t *testing.T, heaters int) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	d.watch = alerts.New(alerts.Options{Log: d.store, Growth: endOfLog{cancel}, Ledger: d.ledger,
		Engine: fold.New(bigFleet(heaters), fold.DefaultRules()), Logger: silent})
	if err := d.watch.Run(ctx); err != nil {
		t.Fatal(err)
	}
}

func samplesOf(t *testing.T, d *daemon) (n int) {
	t.Helper()
	if err := d.store.Samples(t.Context(), "n-0", 0, 1<<62, func(reading.Sample) bool { n++; return true }); err != nil {
		t.Fatal(err)
	}
	return n
}

// The log gives way to the hours up to what every follower has read, for a day
// that the copy elsewhere does not get on; nothing is lost unless the
// configuration says so.
func TestCareKeepsWhatSomebodyStillReads(t *testing.T) {
	d, _ := careDaemon(t)
	tended := func(want int64) {
		t.Helper()
		if err := d.tend(t.Context(), 0); err != nil {
			t.Fatal(err)
		}
		if upto, _ := d.store.Compacted(t.Context()); upto != want {
			t.Errorf("compacted to %d, want %d", upto, want)
		}
		if n := samplesOf(t, d); n != 72*12 {
			t.Errorf("%d samples", n)
		}
	}
	d.cfg.History = &config.Influx{}
	tended((72 - 24) * 12)
	if err := d.store.SaveSnapshot(t.Context(), history.SnapshotName, 700, nil); err != nil {
		t.Fatal(err)
	}
	tended(700)
	d.cfg.History = nil
	tended((72 - 3) * 12) // the last three hours stay as they came
}

func TestCareThinsWhatWasToBeKeptForATime(t *testing.T) {
	d, now := careDaemon(t)
	var refused []store.Quarantined
	for _, days := range []int{1, 100} {
		at := now.Add(-time.Duration(days) * 24 * time.Hour)
		refused = append(refused, store.Quarantined{At: at, Refused: record.Refused{Reason: reading.BadSyntax}})
	}
	if _, err := d.store.Keep(t.Context(), store.Batch{Quarantined: refused}); err != nil {
		t.Fatal(err)
	}
	d.cfg.Store.ReadingsDays = 2
	if err := d.tend(t.Context(), 1); err != nil {
		t.Fatal(err)
	}
	if n := samplesOf(t, d); n != 48*12 {
		t.Errorf("%d samples after two days' keeping", n)
	}
	steps, err := d.store.Rollup(t.Context(), "n-0", now.Add(-72*time.Hour), now, 24*time.Hour)
	if err != nil || len(steps) != 3 || steps[0].Samples == 0 {
		t.Errorf("figures %+v, %v", steps, err)
	}
	if left, _ := d.store.ListQuarantine(t.Context(), "", 9, 64<<10); len(left) != 1 {
		t.Errorf("%d in the quarantine", len(left))
	}
}

// A clock that is a year ahead when the store is looked after, and then set
// right, costs no day of those that are to be kept, nor what comes next.
func TestCareWithAClockFarAhead(t *testing.T) {
	d, now := careDaemon(t)
	d.cfg.Store.ReadingsDays = 2
	d.clock = func() time.Time { return now.Add(365 * 24 * time.Hour).Time() }
	if err := d.tend(t.Context(), 1); err != nil {
		t.Fatal(err)
	}
	if n := samplesOf(t, d); n != 36*12 { // two days of the calendar, one of them half over
		t.Errorf("%d samples left", n)
	}
	x := reading.Sample{At: now, Has: reading.CO, CO: 4}
	if _, err := d.store.Keep(t.Context(), store.Batch{Lines: []record.Line{{At: now, Pack: &reading.Pack{Node: "n-0", Samples: []reading.Sample{x}}}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := d.store.Compact(t.Context(), 1<<40, now+1, 1000); err != nil {
		t.Fatal(err)
	}
	if n := samplesOf(t, d); n != 36*12+1 {
		t.Errorf("%d samples after the next one", n)
	}
}
