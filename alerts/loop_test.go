package alerts_test

import (
	"context"
	"log/slog"
	"math"
	"path/filepath"
	"testing"
	"time"

	"heaterd/alerts"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

var quiet = slog.New(slog.DiscardHandler)

var morning = reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))

// hall is one space with three heaters.
func hall() fleet.Fleet {
	f := fleet.Fleet{Sites: []fleet.Site{{ID: "quay", Zone: time.UTC, Spaces: []fleet.Space{{ID: "hall"}}}}}
	for _, n := range []string{"1", "2", "3"} {
		f.Heaters = append(f.Heaters, fleet.Heater{ID: "H-" + n, Node: reading.NodeID("n-" + n), Site: "quay", Space: "hall"})
	}
	return f
}

// work is what the three nodes send over a time: burns of different length,
// run time counted, CO that rises in one burn of node n-1, and what people do.
func work(span time.Duration) (lines []record.Line) {
	var run [3]float64
	const every = 30 * time.Second
	for at := time.Duration(0); at < span; at += every {
		now := morning.Add(at)
		lines = append(lines, record.Line{At: now})
		for n := range run {
			cycle, minute := int(at/time.Minute)/(30+11*n), int(at/time.Minute)%(30+11*n)
			lit := minute >= 8+cycle*7%9
			x := reading.Sample{At: now, Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp, CO: 3, Temp: 14}
			if lit {
				x.On, x.Temp = reading.Flame, 17
				run[n] += every.Seconds()
			}
			if n == 0 && at > span/2 && at < span/2+20*time.Minute {
				x.CO = 250
			}
			x.Runtime = math.Round(run[n])
			node := reading.NodeID([]string{"n-1", "n-2", "n-3"}[n])
			lines = append(lines, record.Line{At: now.Add(time.Second), Pack: &reading.Pack{Node: node, Samples: []reading.Sample{x}}})
		}
		if at%(7*time.Hour) == time.Hour {
			lines = append(lines, record.Line{At: now.Add(time.Second), Entry: &record.Entry{Heater: "H-2", Task: "refuel", By: "a fitter"}})
		}
	}
	return lines
}

func open(t testing.TB, path string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), path, quiet, ledger.Migrations)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func fill(t testing.TB, s *store.Store, lines []record.Line) {
	t.Helper()
	if _, err := s.Keep(t.Context(), store.Batch{Lines: lines}); err != nil {
		t.Fatal(err)
	}
}

// noGrowth ends the loop once it has read everything.
type noGrowth struct{ end context.CancelFunc }

func (g noGrowth) Await(ctx context.Context, _ int64) (int64, error) {
	g.end()
	return 0, ctx.Err()
}

// follow runs the loop over all the store holds and gives the engine.
func follow(t testing.TB, s *store.Store) (*fold.Engine, *alerts.Watch) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	e := fold.New(hall(), fold.DefaultRules())
	w := alerts.New(alerts.Options{Log: s, Growth: noGrowth{cancel}, Ledger: ledger.New(s), Engine: e, Logger: quiet})
	if err := w.Run(ctx); err != nil {
		t.Fatal(err)
	}
	if w.Faults() != 0 {
		t.Errorf("%d lines failed", w.Faults())
	}
	return e, w
}

func fresh(t testing.TB) *store.Store { return open(t, filepath.Join(t.TempDir(), "h.db")) }
