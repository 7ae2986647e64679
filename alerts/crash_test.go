package alerts_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/alerts"
	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// mortal is a store and a ledger that the daemon stops using at one operation.
type mortal struct {
	*store.Store
	*ledger.Ledger
	left int // operations until then
	end  death
	stop context.CancelFunc
	dead bool
}

// death is how the daemon ends.
type death struct {
	name     string
	done     bool // the last operation is carried out, but its answer never seen
	lastWord bool // the store works again for what is done on the way out
}

var deaths = []death{
	{name: "killed before"}, {name: "killed after", done: true},
	{name: "stopped while the store failed", lastWord: true},
}

var errDead = errors.New("the store is gone")

// die counts an operation; do says whether to carry it out, err what to answer.
func (m *mortal) die() (do bool, err error) {
	if m.dead {
		if m.end.lastWord {
			return true, nil
		}
		return false, errDead
	}
	if m.left--; m.left > 0 {
		return true, nil
	}
	m.dead = true
	m.stop()
	return m.end.done, errDead
}

const fewLines = 60 // at once, so that there are many operations

func (m *mortal) Lines(ctx context.Context, after int64, limit int) (lines []record.Line, err error) {
	do, err := m.die()
	if do && err == nil {
		return m.Store.Lines(context.WithoutCancel(ctx), after, min(limit, fewLines))
	}
	return nil, err
}

func (m *mortal) LoadSnapshot(ctx context.Context, name string) (int64, []byte, bool, error) {
	if _, err := m.die(); err != nil {
		return 0, nil, false, err
	}
	return m.Store.LoadSnapshot(context.WithoutCancel(ctx), name)
}

func (m *mortal) Cursor(ctx context.Context) (int64, error) {
	if _, err := m.die(); err != nil {
		return 0, err
	}
	return m.Ledger.Cursor(context.WithoutCancel(ctx))
}

func (m *mortal) LastAlarms(ctx context.Context) ([]alarm.Alarm, error) {
	if _, err := m.die(); err != nil {
		return nil, err
	}
	return m.Ledger.LastAlarms(context.WithoutCancel(ctx))
}

func (m *mortal) Commit(ctx context.Context, b ledger.Batch) error {
	do, dead := m.die()
	if do {
		if err := m.Ledger.Commit(context.WithoutCancel(ctx), b); err != nil {
			return err
		}
	}
	return dead
}

// live runs the loop until it has read everything or its store dies.
func (m *mortal) live(t *testing.T, every time.Duration) {
	t.Helper()
	var ctx context.Context
	ctx, m.stop = context.WithCancel(t.Context())
	defer m.stop()
	w := alerts.New(alerts.Options{
		Log: m, Growth: noGrowth{m.stop}, Ledger: m, Engine: fold.New(hall(), fold.DefaultRules()),
		Plan: told, Logger: quiet, SnapshotEvery: every,
	})
	if err := w.Run(ctx); err != nil && !errors.Is(err, errDead) {
		t.Fatal(err)
	}
}

// told tells somebody of every change.
func told(c alarm.Transition) []ledger.Job {
	return []ledger.Job{{ID: fmt.Sprint(c.Alarm.ID, c.Alarm.Seq), Alarm: c.Alarm.ID, Seq: c.Alarm.Seq,
		Channel: "page", Body: []byte("{}"), Created: c.At, NextAttempt: c.At}}
}

// dump writes down what the loop has led to.
func dump(t *testing.T, s *store.Store) (rows []string) {
	t.Helper()
	for _, query := range []string{
		`SELECT 'cursor ' || cursor FROM ledger`, `SELECT id || state || body FROM alarm ORDER BY id`,
		`SELECT alarm || seq || body FROM alarm_change ORDER BY alarm, seq`, `SELECT body FROM burn ORDER BY heater, start_at`,
		`SELECT line || body FROM entry ORDER BY line`, `SELECT id || state || created FROM job ORDER BY id`,
	} {
		all, err := s.Reader().Query(query)
		if err != nil {
			t.Fatal(err)
		}
		for all.Next() {
			var row string
			if err := all.Scan(&row); err != nil {
				t.Fatal(err)
			}
			rows = append(rows, row)
		}
		if err := errors.Join(all.Err(), all.Close()); err != nil {
			t.Fatal(err)
		}
	}
	return rows
}

// Wherever the loop ends between two operations of the store, and whether or
// not the last one was carried out, the next start comes to what an
// undisturbed run comes to: nothing told twice, nothing forgotten.
func TestTheLoopMayEndAnywhere(t *testing.T) {
	lines := work(4 * time.Hour)
	clean := fresh(t)
	fill(t, clean, lines)
	whole := &mortal{Store: clean, Ledger: ledger.New(clean), left: 1 << 30}
	whole.live(t, time.Nanosecond)
	want, operations := dump(t, clean), 1<<30-whole.left
	t.Logf("%d operations, %d rows", operations, len(want))
	for _, every := range []time.Duration{time.Nanosecond, time.Hour} {
		for _, end := range deaths {
			t.Run(fmt.Sprint(end.name, " a step, snapshots every ", every), func(t *testing.T) {
				for n := 1; n <= operations; n += 1 + n/8 {
					s := fresh(t)
					relax(t, s)
					fill(t, s, lines)
					m := &mortal{Store: s, Ledger: ledger.New(s), left: n, end: end}
					m.live(t, every)
					again := &mortal{Store: s, Ledger: ledger.New(s), left: 1 << 30}
					again.live(t, every)
					if diff := cmp.Diff(want, dump(t, s)); diff != "" {
						t.Fatalf("ended at operation %d of %d (-undisturbed +got)\n%.3000s", n, operations, diff)
					}
					_ = s.Close()
				}
			})
		}
	}
}

// relax spares the disk: what is lost when the power goes is not the matter
// here.
func relax(t *testing.T, s *store.Store) {
	t.Helper()
	if _, err := s.Writer().Exec("PRAGMA synchronous = OFF"); err != nil {
		t.Fatal(err)
	}
}
