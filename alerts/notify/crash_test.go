package notify_test

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/ingest/reading"
)

var errDead = errors.New("the process is dead")

// mortal is an outbox whose process dies at one call, before or after it
// takes effect. From then on nothing the process does has any effect.
type mortal struct {
	*ledger.Ledger
	after bool // the last call still takes effect
	dead  atomic.Bool

	mu   sync.Mutex
	left int // calls until the death
}

func (m *mortal) call(do func() error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.dead.Load() {
		return errDead
	}
	if m.left--; m.left == 0 {
		m.dead.Store(true)
		if !m.after {
			return errDead
		}
		_ = do()
		return errDead
	}
	return do()
}

func (m *mortal) Claim(ctx context.Context, now reading.Instant, lease time.Duration, limit int) (jobs []ledger.Job, err error) {
	err = m.call(func() (err error) { jobs, err = m.Ledger.Claim(ctx, now, lease, limit); return err })
	if err != nil {
		return nil, err
	}
	return jobs, nil
}

func (m *mortal) MarkSent(ctx context.Context, id string, at reading.Instant) error {
	return m.call(func() error { return m.Ledger.MarkSent(ctx, id, at) })
}

func (m *mortal) MarkFailed(ctx context.Context, id string, at, next reading.Instant, cause error) error {
	return m.call(func() error { return m.Ledger.MarkFailed(ctx, id, at, next, cause) })
}

func (m *mortal) MarkDead(ctx context.Context, id string, at reading.Instant, cause error) error {
	return m.call(func() error { return m.Ledger.MarkDead(ctx, id, at, cause) })
}

func (m *mortal) MarkNeedless(ctx context.Context, id string) error {
	return m.call(func() error { return m.Ledger.MarkNeedless(ctx, id) })
}

func (m *mortal) Retry(ctx context.Context, channel string, now, beyond reading.Instant) error {
	return m.call(func() error { return m.Ledger.Retry(ctx, channel, now, beyond) })
}

func (m *mortal) BringForward(ctx context.Context, id string, now reading.Instant) error {
	return m.call(func() error { return m.Ledger.BringForward(ctx, id, now) })
}

func (m *mortal) Commit(ctx context.Context, b ledger.Batch) error {
	return m.call(func() error { return m.Ledger.Commit(ctx, b) })
}

// told is what one message is about, whatever its id.
type told struct {
	kind   notify.MessageKind
	alarm  string
	person string
}

// A process that dies between any two steps of the outbox leaves nothing
// untold, and a receiver that honours the key is told once.
func TestDeathBetweenAnyTwoSteps(t *testing.T) {
	step := 1
	if testing.Short() {
		step = 9
	}
	for _, after := range []bool{false, true} {
		for k := 1; ; k += step {
			if !dieAt(t, k, after) {
				t.Logf("died at every place up to number %d, after taking effect %v", k-step, after)
				break
			}
		}
	}
}

// dieAt reports whether the process came to die.
func dieAt(t *testing.T, k int, after bool) (died bool) {
	t.Helper()
	inOffice(t, people(), duty{"jo", "mo"}, func(o *office, start time.Time) {
		o.stop()
		box := &mortal{Ledger: o.ledger, left: k, after: after}
		o.log.answers(func(m notify.Message) error {
			switch {
			case box.dead.Load() && !box.after:
				return errDead
			case m.Channel == "phones":
				return errors.New("no answer")
			}
			return nil
		})
		at := start.Add(12 * time.Hour)
		time.Sleep(12 * time.Hour)
		o.open(people(), box)
		up, minor := raise(alarm.FlameNotHolding, alarm.High, at), raise(alarm.SpaceCold, alarm.Medium, at)
		o.commit(up)
		o.commit(minor)
		wait(12 * time.Minute)
		o.restart(box)
		acked := acknowledge(up, 12*time.Minute)
		o.commit(acked)
		o.commit(acknowledge(minor, 12*time.Minute))
		down := clearing(acked, time.Minute)
		down.From = alarm.Acknowledged
		o.commit(down)
		wait(3 * time.Minute)
		o.restart(box)
		wait(10 * time.Minute)
		died = box.dead.Load()
		o.check(k, after)
	})
	return died
}

// restart is what a supervisor does with a dead process.
func (o *office) restart(box *mortal) {
	if !box.dead.Load() {
		return
	}
	o.stop()
	o.log.answers(func(m notify.Message) error {
		if m.Channel == "phones" {
			return errors.New("no answer")
		}
		return nil
	})
	o.open(people(), o.ledger)
	wait(2 * time.Minute)
}

func (o *office) check(k int, after bool) {
	o.t.Helper()
	seen := map[told]map[string]int{}
	for _, a := range o.log.arrivals() {
		key := told{a.Kind, a.Alarm.Kind, a.Person}
		if seen[key] == nil {
			seen[key] = map[string]int{}
		}
		seen[key][a.ID]++
	}
	for _, must := range []told{
		{notify.Raised, "flame-not-holding", "jo"},
		{notify.Raised, "flame-not-holding", "mo"},
		{notify.Raised, "space-cold", "jo"},
		{notify.Raised, "space-cold", "mo"},
		{notify.Ended, "flame-not-holding", "jo"},
		{notify.Ended, "flame-not-holding", "mo"},
	} {
		ids := seen[must]
		if len(ids) != 1 {
			o.t.Errorf("death at call %d (after %v): %+v under %d ids, want 1", k, after, must, len(ids))
		}
		for id, n := range ids {
			if n > 2 {
				o.t.Errorf("death at call %d (after %v): %s came %d times", k, after, id, n)
			}
		}
	}
}
