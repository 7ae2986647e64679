package fold

import (
	"slices"
	"sort"

	"heaterd/ingest/reading"
)

// pending is a sample that may still be overtaken, with when it came.
type pending struct {
	reading.Sample
	Came reading.Instant // arrival of what was new in it
}

// insert puts one sample in its place. It reports whether the live copy must
// be made anew at once because the sample came behind a later one. A sample
// older than the lateness window can wait for the next tick: it pages nobody.
// So can one among very many. One older than anything that is kept says nothing
// of when it was.
func (h *heater) insert(x reading.Sample, now reading.Instant) (stale bool) {
	switch {
	case x.At <= h.Settled.At, now.Sub(x.At) > h.rules.keptMost():
		h.tooLate(x)
		return false
	case x.At > h.Live.At && (len(h.Pending) == 0 || x.At > h.Pending[len(h.Pending)-1].At):
		h.makeRoom()
		h.Pending = append(h.Pending, pending{x, now})
		newest := len(h.Pending) - 1
		h.site.closed = h.fold(&h.Live, newest, h.site.closed[:0])
		from := h.changedBy(newest)
		if stale = from < x.At && h.ranFrom(from, &x); stale {
			h.spoil(from)
		}
		return stale
	case !h.place(x, now):
		return false
	}
	h.spoil(h.changedBy(h.waitingAfter(x.At - 1)))
	window := now.Add(-h.rules.Lateness)
	return x.At >= window && len(h.Pending)-h.waitingAfter(window) <= renewAtOnce
}

// spoil notes that the copies are wrong from an instant on.
func (h *heater) spoil(from reading.Instant) {
	if h.soft != nil && from <= h.soft.At {
		h.soft = nil
	}
	if h.Spoilt == 0 || from < h.Spoilt {
		h.Spoilt = from
	}
}

// renewAtOnce is how many samples inside the window are folded anew for one
// straggler. Where there are more, the next tick does it for all that came
// meanwhile: what is in order, and a ceiling, does not wait for that. Common
// practice, no source.
const renewAtOnce = 128

// place puts a sample among those that wait; false where it says nothing new.
func (h *heater) place(x reading.Sample, now reading.Instant) bool {
	i := h.waitingAfter(x.At - 1)
	if i == len(h.Pending) || h.Pending[i].At != x.At {
		h.makeRoom()
		h.Pending = slices.Insert(h.Pending, i, pending{x, now})
		return true
	}
	merged := h.Pending[i].Merge(x)
	if merged == h.Pending[i].Sample {
		return false
	}
	h.Pending[i] = pending{merged, now}
	return true
}

// makeRoom has room for one more waiting sample. Every heater has such a list,
// so it is not doubled.
func (h *heater) makeRoom() {
	if n := len(h.Pending); n == cap(h.Pending) {
		h.Pending = append(make([]pending, 0, n+max(8, n/4)), h.Pending...)
	}
}

// drop forgets the first n waiting samples, and the room that a backlog took.
func (h *heater) drop(n int) {
	h.Pending = h.Pending[:copy(h.Pending, h.Pending[n:])]
	if n := len(h.Pending); cap(h.Pending) > 2*n+64 {
		h.Pending = append(make([]pending, 0, n+8), h.Pending...)
	}
}

// waitingAfter gives the place of the first waiting sample after at.
func (h *heater) waitingAfter(at reading.Instant) int {
	return sort.Search(len(h.Pending), func(i int) bool { return h.Pending[i].At > at })
}

// tooLate takes what a sample can still tell once its place in time is
// settled: a higher peak of CO. Duplicates change nothing.
func (h *heater) tooLate(x reading.Sample) {
	if x.Carries(reading.CO) {
		h.Settled.Air.Late(float64(x.CO))
		h.Live.Air.Late(float64(x.CO))
		if h.soft != nil {
			h.soft.Air.Late(float64(x.CO))
		}
	}
}

// softFrom is how many samples must wait beyond the lateness window before a
// copy is kept that has seen them: it costs its size and saves folding them
// at every straggler.
const softFrom = 64

// renew makes the live copy anew from the newest copy that no straggler
// inside the window can touch.
func (h *heater) renew(now reading.Instant) {
	h.passed = slices.DeleteFunc(h.passed, func(e ended) bool { return e.Burn.End >= h.Spoilt }) // they are found again, or are none
	from := h.firm(now)
	h.Live = *from
	for i := h.waitingAfter(from.At); i < len(h.Pending); i++ {
		h.site.closed = h.fold(&h.Live, i, h.site.closed[:0])
		h.noteSpoilt(&h.Live)
	}
	h.Spoilt = 0
}

// firm gives the settled copy, or where that waits behind a hole, a copy that
// has seen everything older than the lateness window as if the hole stayed.
func (h *heater) firm(now reading.Instant) *Witness {
	old := h.waitingAfter(now.Add(-h.rules.Lateness))
	if old < softFrom {
		h.soft = nil
		return &h.Settled
	}
	if h.soft == nil {
		c := h.Settled
		h.soft = &c
	}
	for i := h.waitingAfter(h.soft.At); i < old; i++ {
		h.site.closed = h.fold(h.soft, i, h.site.closed[:0])
		h.noteSpoilt(h.soft)
	}
	return h.soft
}

// settle folds the samples that nothing can overtake any more.
func (h *heater) settle(now reading.Instant) {
	n, most := 0, h.undoubted()
	for n < len(h.Pending) && h.Pending[n].At < most && !h.mayBeOvertaken(h.Settled.At, &h.Pending[n], now) && !h.mayBeDim(n, now) {
		h.settleOne(n)
		n++
	}
	if n == 0 {
		return
	}
	h.drop(n)
	if h.soft != nil && h.soft.At <= h.Settled.At {
		h.soft = nil
	}
	h.forgetMarks()
	if h.space != nil {
		h.space.settled = true
	}
}

// mayBeOvertaken holds a sample back inside the lateness window, by when it
// was measured and by when it came, and behind a hole, since the one at from,
// that a node's own buffer may still fill.
func (h *heater) mayBeOvertaken(from reading.Instant, x *pending, now reading.Instant) bool {
	if now.Sub(max(x.At, x.Came)) < h.rules.Lateness || h.mayMove(x, now) {
		return true
	}
	return h.hole(from, x.At) && now.Sub(x.At) < h.rules.patience()
}

// How long a node must have said nothing before its buffer is waited for: so
// many expected intervals that lost samples hardly ever make up for it, or
// the lateness window where that is shorter, but always more than two.
// Common practice, no source.
const (
	holeIntervals = 5.5
	holeLeast     = 2.5
)

// hole reports whether samples may be missing between two instants, 0 before the
// first one.
func (h *heater) hole(from, at reading.Instant) bool {
	if from == 0 {
		from = h.Begin
	}
	every := h.Settled.Every.Expected(h.promised(at)).Seconds()
	span := max(holeLeast*every, min(holeIntervals*every, h.rules.Lateness.Seconds()))
	return at.Seconds(from) > span
}

// settleOne folds one waiting sample into the settled copy, and keeps what is only
// kept there: the burns that wait for their verdict, the use of each day, and
// the air of the space.
func (h *heater) settleOne(i int) {
	x := &h.Pending[i].Sample
	before := h.Settled.Day
	from, hours, turns := h.Settled.At, 0.0, h.Trail.due(x.At)
	if turns {
		hours = h.Settled.Burner.HoursAt(from).Run
	}
	h.noteHole(from, x.At)
	lost := h.Settled.Burner.Fell.Supply
	h.site.closed = h.fold(&h.Settled, i, h.site.closed[:0])
	if at := h.Settled.Burner.Fell.Supply; at != lost {
		h.Losses.add(loss{from, at})
	}
	if turns {
		h.Trail.follow(from, x.At, hours, h.Settled.Burner.HoursAt(x.At).Run)
	}
	if h.Settled.Day.Number != before.Number {
		h.countDays(before, h.Settled.Day)
	}
	for _, b := range h.site.closed {
		h.addOpen(&b)
	}
	h.followOpen()
	if x.Carries(reading.CO) && h.space != nil && h.Settled.Cell.Measures() {
		h.Air = append(h.Air, airReading{x.At, x.CO})
	}
}

// addOpen adds a burn that ended to those that wait for their verdict.
func (h *heater) addOpen(b *ended) {
	if n := len(h.Open); n > 0 {
		h.Open[n-1].litUnseen(&b.Burn)
	}
	h.Open = append(h.Open, b)
	h.site.ended(h, b)
	h.ripen()
}
