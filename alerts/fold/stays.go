package fold

import (
	"cmp"
	"slices"
	"time"

	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// earlier are the units that were on a heater and may still send what they
// measured there.
type earlier []departure

// departure is a unit that was taken off, with what was known of its clock and
// what it promised.
type departure struct {
	Node   reading.NodeID
	Until  reading.Instant
	Clock  trust.Clock
	Within time.Duration
}

// add notes a unit that is on the heater no more, and forgets those that can
// have kept nothing from there.
func (l earlier) add(node reading.NodeID, f *figures, now reading.Instant, kept time.Duration) earlier {
	l = slices.DeleteFunc(l, func(d departure) bool { return now.Sub(d.Until) > kept })
	if node == "" {
		return l
	}
	return append(l, departure{node, now, f.Clock, f.Within})
}

// promised gives the longest time to the next reading that the unit which was on
// the heater at an instant had promised: the word of one binds no other.
func (h *heater) promised(at reading.Instant) time.Duration {
	for i := range h.Before {
		if d := &h.Before[i]; at < d.Until {
			return d.Within
		}
	}
	return h.Within
}

// left gives when the last unit left by an instant; 0 where that is forgotten.
func (l earlier) left(by reading.Instant) (at reading.Instant) {
	for _, d := range l {
		if d.Until <= by {
			at = max(at, d.Until)
		}
	}
	return at
}

// stay is where a unit was until an instant: on a heater, or on one that the
// configuration does not have any more.
type stay struct {
	*departure
	heater *heater
}

// recallStays gathers where each unit was before it was where it is now, in
// order of time.
func (e *Engine) recallStays() {
	clear(e.stays)
	for _, h := range e.heaters {
		e.addStays(h, h.Before)
	}
	for _, r := range e.away {
		e.addStays(nil, r.Before)
	}
	for _, all := range e.stays {
		slices.SortStableFunc(all, func(a, b stay) int { return cmp.Compare(a.Until, b.Until) })
	}
}

func (e *Engine) addStays(h *heater, all earlier) {
	for i := range all {
		e.stays[all[i].Node] = append(e.stays[all[i].Node], stay{&all[i], h})
	}
}

// clockOf gives what was known of the clock of a unit when it was taken off
// the heater it was last on.
func (e *Engine) clockOf(node reading.NodeID) trust.Clock {
	all := e.stays[node]
	if len(all) == 0 {
		return trust.Clock{}
	}
	return all[len(all)-1].Clock
}

// giveBack puts what a unit measured before it was taken off a heater to that
// heater, and gives the rest: packs do not say where they were measured. What
// is stamped by its arrival is of now.
func (e *Engine) giveBack(l record.Line, shift time.Duration) []reading.Sample {
	all, stays, now := l.Pack.Samples, e.stays[l.Pack.Node], e.byNode[l.Pack.Node]
	if len(stays) == 0 || all[0].At.Add(shift) >= stays[len(stays)-1].Until {
		return all
	}
	var rest []reading.Sample
	for _, x := range all {
		was := where(stays, x.At.Add(shift))
		if x.At == l.At || was == nil || was.heater == now {
			rest = append(rest, x)
			continue
		}
		x.At = x.At.Add(shift)
		e.takeBack(was.heater, x)
	}
	return rest
}

// where gives the stay that an instant falls into; nil where the unit is now.
func where(stays []stay, at reading.Instant) *stay {
	for i := range stays {
		if at < stays[i].Until {
			return &stays[i]
		}
	}
	return nil
}

// takeBack gives a heater what a unit had measured there; nil is one that the
// configuration does not have any more.
func (e *Engine) takeBack(h *heater, x reading.Sample) {
	if h == nil {
		return
	}
	if e.place(h, x) {
		h.renew(e.now)
	}
	e.lookAtCrests(h)
	e.lookAtAir(h, false)
}
