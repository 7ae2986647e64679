package alerts_test

import (
	"context"
	"testing"

	"heaterd/alerts"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

func TestAFittedNodeIsKnown(t *testing.T) {
	s := fresh(t)
	_, w := follow(t, s)
	if !w.Knows("n-1") || w.Knows("spare") || w.Knows("") {
		t.Error("as configured")
	}
	fill(t, s, []record.Line{{At: morning}, {At: morning, Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "spare"}}})
	for range 2 { // as it happens, and after a start
		if _, w = follow(t, s); !w.Knows("spare") || w.Knows("n-1") || !w.Knows("n-2") {
			t.Error("after the spare was fitted")
		}
	}
}

// asking is a store whose every reader is asked something first.
type asking struct {
	*store.Store
	ask func()
}

func (a asking) Lines(ctx context.Context, after int64, limit int) ([]record.Line, error) {
	a.ask()
	return a.Store.Lines(ctx, after, limit)
}

// What a person fitted just before the daemon died is in the log and not in the
// engine's memory: until a start has read that far, nothing of the unit is
// refused.
func TestANodeFittedBeforeADeathIsKnownAllAlong(t *testing.T) {
	s := fresh(t)
	fill(t, s, []record.Line{{At: morning}})
	follow(t, s)
	fill(t, s, []record.Line{{At: morning, Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "spare"}}})
	var w *alerts.Watch
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	asked := 0
	w = alerts.New(alerts.Options{
		Growth: noGrowth{cancel}, Ledger: ledger.New(s), Engine: fold.New(hall(), fold.DefaultRules()), Logger: quiet,
		Log: asking{s, func() {
			if asked++; !w.Knows("spare") {
				t.Error("the spare would be refused")
			}
		}},
	})
	if err := w.Run(ctx); err != nil || asked == 0 {
		t.Fatal(err, asked)
	}
	if w.Knows("n-1") || !w.Knows("spare") {
		t.Error("not as fitted")
	}
}
