package fold

import (
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
)

// dims are the last readings that showed no flame though the counter and the next
// one prove that it burned: a photocell behind a sooty window misses it now and then.
type dims [dimsFrom]reading.Instant // ascending; 0 none

// The first few are told as endings like any other, so that a heater that keeps
// going out is told as such and its photocell is looked at; only then are they
// believed no more. As for endings that repeat; common practice, no source.
const (
	dimsFrom   = 3
	dimsWithin = 72 * time.Hour
)

// dimFor is how far apart several readings in a row that miss a flame may be: less
// than an ending waits to be told. Common practice, no source.
const dimFor = time.Minute

// unseen says what a person is to think of.
const unseen = "its counter ran on while readings saw no flame: its photocell's window may be sooty"

func (d *dims) add(at reading.Instant) {
	copy(d[:], d[1:])
	d[dimsFrom-1] = at
}

// often reports whether there were so many that one more is not believed.
func (d *dims) often(at reading.Instant) bool { return d[0] != 0 && at.Sub(d[0]) <= dimsWithin }

// fold folds the waiting sample i into a copy, with its flame lit where it is not
// believed that it was not.
func (h *heater) fold(w *Witness, i int, ended []ended) []ended {
	x := h.Pending[i]
	w.Burner.Counter.Sooty = w.Dims.often(x.At)
	if h.dim(w, i) {
		if w.Burner.Counter.Sooty {
			x.On |= reading.Flame
		}
		w.Dims.add(x.At)
	}
	return w.apply(h, &x, ended)
}

// dim reports whether the waiting sample i, up to which a copy has come, shows no
// flame though it is proved that it burned.
func (h *heater) dim(w *Witness, i int) bool {
	if !h.looksDim(w, i) {
		return false
	}
	next := h.nextFlame(i)
	return next < len(h.Pending) && h.Pending[next].Lit() && w.Burner.RanThrough(&h.Pending[next].Sample, h.burner())
}

// looksDim reports whether it would be if the next one saw the flame again.
func (h *heater) looksDim(w *Witness, i int) bool {
	x := &h.Pending[i].Sample
	return dark(x) && w.Burner.RanThrough(x, h.burner())
}

func (h *heater) burner() *burner.Options { return &h.rules.Burner }

func dark(x *reading.Sample) bool { return x.Carries(reading.Flame) && !x.Lit() }

// nextFlame gives the place of the first waiting sample after a dark one that
// tells of the flame, past others that are dark soon after it.
func (h *heater) nextFlame(i int) int {
	n := i + 1
	for n < len(h.Pending) {
		x := &h.Pending[n].Sample
		if x.Carries(reading.Flame) && (x.Lit() || x.At.Sub(h.Pending[i].At) >= dimFor) {
			break
		}
		n++
	}
	return n
}

// mayBeDim holds back a sample that the next one may disprove, until that is there
// and cannot be overtaken any more, as long as samples are waited for in a hole.
func (h *heater) mayBeDim(i int, now reading.Instant) bool {
	if !h.looksDim(&h.Settled, i) {
		return false
	}
	next := h.nextFlame(i)
	if next == len(h.Pending) {
		return now.Sub(h.Pending[i].At) < h.rules.patience()
	}
	return h.mayBeOvertaken(h.Pending[next-1].At, &h.Pending[next], now)
}

// endMayBeDim reports whether the last ending may be none, as the next reading will
// show: that happens often here, and the counter told of no stop yet.
func (h *heater) endMayBeDim(now reading.Instant) bool {
	b := &h.Live.Burner
	return h.Live.Dims.often(now) && now.Seconds(b.Flame.At) <= b.Regular && b.MayRunOn(&h.Live.Last.Burn, h.burner())
}

// changedBy gives from when on a copy may become another by the waiting sample i:
// one that is lit may disprove the dark ones right before it, after the last lit one.
func (h *heater) changedBy(i int) reading.Instant {
	at, newest := h.Pending[i].At, reading.Instant(0)
	if !h.Pending[i].Lit() {
		return at
	}
	for i--; i >= 0; i-- {
		switch x := &h.Pending[i]; {
		case x.Lit() && newest != 0:
			return x.At
		case x.Lit(), dark(&x.Sample) && newest.Sub(x.At) >= dimFor && newest != 0:
			return at
		case dark(&x.Sample) && newest == 0:
			newest = x.At
		}
	}
	if f := &h.Settled.Burner.Flame; newest != 0 && f.Lit {
		return f.At
	}
	return at
}

// ranFrom reports whether the counter ran on from the lit sample of an instant.
func (h *heater) ranFrom(at reading.Instant, x *reading.Sample) bool {
	runtime := h.Settled.Burner.Flame.Runtime
	if i := h.waitingAfter(at - 1); h.Pending[i].At == at {
		runtime = h.Pending[i].Runtime
	}
	return h.Live.Burner.RanFrom(at, runtime, x, h.burner())
}
