package fold

import (
	"time"

	"heaterd/ingest/reading"
)

// doubt is a sample that came late and tells of a time the node had told of
// already. Either it was kept up on its way, or the node's clock was set back
// and it belongs to when it came: the next packs say which.
type doubt struct {
	reading.Sample // as it was stamped
	Came           reading.Instant
	Shift          time.Duration // the correction in force then
}

// How such samples are told, and how long they wait. Common practice, no
// source.
const (
	coveredBy  = 1.25             // expected intervals between two samples with none missing between them
	doubtsMost = 64               // that wait
	doubtLasts = 15 * time.Minute // without another word
)

// doubted decides about a fresh pack: whether it is to be held, and the
// correction for it. What was held before is placed once that is known.
func (e *Engine) doubted(h *heater, all []reading.Sample, shift time.Duration) (now time.Duration, held, stale bool) {
	newest := all[len(all)-1].At
	if e.now.Sub(newest.Add(shift)) <= e.rules.Lateness {
		h.Clock.OnTime()
		return shift, false, e.believe(h)
	}
	crosses, sure := h.crosses(all, shift)
	if !crosses {
		return shift, false, false
	}
	if !h.Clock.Crossed(newest, e.now, sure) {
		if len(h.Doubts)+len(all) <= doubtsMost {
			return shift, true, false
		}
		return shift, false, e.believe(h)
	}
	shift, _ = h.Clock.Skewed()
	return shift, false, e.believe(h)
}

// echo reports whether a late sample is old, told before or not until now,
// whatever the clock: its counter stands lower than the node's does since, by
// no more than the time between can have burned. A counter does not go back
// with its clock; of a unit that lost both, the stamps lie further back than
// anything that was kept.
func (h *heater) echo(x *reading.Sample, shift time.Duration, now reading.Instant) bool {
	known, at := &h.Live.Known, x.At.Add(shift)
	age := now.Sub(at)
	if !x.Carries(reading.Runtime) || !known.Carries(reading.Runtime) || at > h.Live.At || age <= h.rules.Lateness || age > h.rules.keptMost() {
		return false
	}
	back := known.Runtime - x.Runtime
	return back > 0 && back <= known.At.Seconds(at)
}

// believe places what was held: by the correction in force now where that
// makes it come in time, else by that of then.
func (e *Engine) believe(h *heater) (stale bool) {
	if len(h.Doubts) == 0 {
		return false
	}
	shift, _ := h.Clock.Skewed()
	for _, d := range h.Doubts {
		if late := d.Came.Sub(d.At.Add(shift)); late.Abs() > e.rules.Lateness {
			d.At = d.At.Add(d.Shift)
		} else {
			d.At = d.At.Add(shift)
		}
		stale = e.place(h, d.Sample) || stale
		h.noteCrests(&h.Live)
	}
	h.Doubts = nil
	return stale
}

// giveUpDoubt believes what was held of a node that says no more.
func (e *Engine) giveUpDoubt(h *heater) {
	if n := len(h.Doubts); n > 0 && e.now.Sub(h.Doubts[n-1].Came) > doubtLasts && e.believe(h) {
		h.renew(e.now)
	}
}

// undoubted is the end of the time that nothing held can be about.
func (h *heater) undoubted() reading.Instant {
	first := end
	for _, d := range h.Doubts {
		first = min(first, d.At.Add(d.Shift))
	}
	return first
}

// crosses reports whether a pack tells of nothing but times of which the node
// has told: otherwise, or between two samples with none missing between. It is
// not sure of those whose place is settled: they may be the same again.
func (h *heater) crosses(all []reading.Sample, shift time.Duration) (crosses, sure bool) {
	every, ok := h.Live.Every.Learned()
	if !ok {
		return false, false
	}
	sure = true
	for _, x := range all {
		x.At = x.At.Add(shift)
		if settled := x.At <= h.Settled.At; !settled && !h.crossed(x, every) {
			return false, false
		} else if settled {
			sure = false
		}
	}
	return true, sure
}

// crossed reports it of a sample whose place is not settled.
func (h *heater) crossed(x reading.Sample, every time.Duration) bool {
	i := h.waitingAfter(x.At - 1)
	if i == len(h.Pending) {
		return false
	}
	next, before := h.Pending[i], h.Settled.At
	if next.At == x.At {
		return next.Merge(x) != next.Sample && next.Has&x.Has != 0
	}
	if i > 0 {
		before = h.Pending[i-1].At
	}
	return before != 0 && float64(next.At.Sub(before)) <= coveredBy*float64(every)
}
