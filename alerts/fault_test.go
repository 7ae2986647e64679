package alerts_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"heaterd/alerts"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// stumbling is a store that cannot be read once, after the start.
type stumbling struct {
	*store.Store
	asked int
}

func (s *stumbling) Lines(ctx context.Context, after int64, limit int) ([]record.Line, error) {
	if s.asked++; s.asked == 3 {
		return nil, errors.New("the disk does not answer")
	}
	return s.Store.Lines(ctx, after, limit)
}

// A site at which nothing happens commits nothing for minutes, in which a log
// that can be read again must not be told as a store that fails.
func TestAReadThatFailedOnceIsOver(t *testing.T) {
	s := &stumbling{Store: fresh(t)}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var w *alerts.Watch
	w = alerts.New(alerts.Options{Log: s, Ledger: ledger.New(s.Store), Logger: quiet, Engine: fold.New(hall(), fold.DefaultRules()),
		Growth: growth(func() {
			if s.asked > 3 {
				if err := w.Healthy(); err != nil {
					t.Errorf("it still says: %v", err)
				}
				cancel()
			}
		})})
	if err := w.Run(ctx); err != nil {
		t.Fatal(err)
	}
	if s.asked < 4 {
		t.Errorf("the log was read %d times", s.asked)
	}
}

// growth does something wherever the loop has read everything.
type growth func()

func (g growth) Await(ctx context.Context, _ int64) (int64, error) {
	g()
	return 0, ctx.Err()
}

// Before the first line of its own run the engine lives in the time of the last
// stop: who took it for ready called it hours behind.
func TestReadyOnceItKnowsHowLateItIs(t *testing.T) {
	s := fresh(t)
	fill(t, s, []record.Line{{At: morning}})
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var w *alerts.Watch
	ready := func() bool {
		select {
		case <-w.Ready():
			return true
		default:
			return false
		}
	}
	waits := 0
	w = alerts.New(alerts.Options{Log: s, Ledger: ledger.New(s), Logger: quiet, Engine: fold.New(hall(), fold.DefaultRules()),
		Growth: growth(func() {
			if waits++; waits > 1 {
				cancel()
				return
			}
			if ready() || !w.Knows("n-1") || w.Knows("spare") {
				t.Error("it is ready with the past alone, or does not know that")
			}
			fill(t, s, []record.Line{{At: morning.Add(time.Hour)}})
		})})
	if err := w.Run(ctx); err != nil {
		t.Fatal(err)
	}
	if !ready() {
		t.Error("it never is ready")
	}
}

// The first line of a run may be written before the loop runs: it is no past, and
// the one after it may be long in coming.
func TestTheFirstLineOfARunMakesReady(t *testing.T) {
	s := fresh(t)
	ctx, cancel := context.WithCancel(t.Context())
	w := alerts.New(alerts.Options{Log: s, Ledger: ledger.New(s), Logger: quiet, Engine: fold.New(hall(), fold.DefaultRules()), Growth: growth(cancel)})
	fill(t, s, []record.Line{{At: morning}})
	if err := w.Run(ctx); err != nil {
		t.Fatal(err)
	}
	select {
	case <-w.Ready():
	default:
		t.Error("it waits for another line")
	}
}
