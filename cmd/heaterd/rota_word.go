package main

import (
	"fmt"
	"sync/atomic"
	"time"

	"heaterd/alerts/notify"
)

// rotaGrace is how long the calendar of who is on call may be unreadable before
// the daemon calls itself unwell: a server that is away for a while is no
// reason to wake anybody. The pages say so at once. Common practice, no source.
const rotaGrace = 2 * time.Hour

// rotaWord is since when the calendar of who is on call cannot be read.
type rotaWord struct{ now atomic.Pointer[staleRota] }

type staleRota struct {
	since time.Time
	why   error
}

// says notes what came of the last look; nil: it was read.
func (w *rotaWord) says(err error, at time.Time) {
	before := w.now.Load()
	switch {
	case err == nil:
		w.now.Store(nil)
	case before != nil:
		w.now.Store(&staleRota{before.since, err})
	default:
		w.now.Store(&staleRota{at, err})
	}
}

// healthy gives nil unless it cannot be read for long.
func (w *rotaWord) healthy(now time.Time) error {
	s := w.now.Load()
	if s == nil || now.Sub(s.since) < rotaGrace {
		return nil
	}
	return fmt.Errorf("the calendar of who is on call cannot be read since %s: %w", s.since.UTC().Format(rotaTime), s.why)
}

// onCall is who answers for alarms, and whether that may be old.
func (d *daemon) onCall(at time.Time) notify.OnCall {
	o := d.planner.OnCall(at)
	if s := d.rota.now.Load(); s != nil {
		o.Stale, o.Why = s.since, s.why.Error()
	}
	return o
}
