package burner

import (
	"math"

	"heaterd/ingest/reading"
)

// Rate finds a counter that runs fast: while the flame burns without a break it
// gains more than the time that passes, which no burn that nobody saw explains.
type Rate struct {
	Lit, Gained float64 // s that the flame burned through, and what the counter gained in them
	Runs        float64 // burns that these are of
	Ran         float64 // s that this counter gained in all
	Off         float64 // s of these that the lower bound leaves out
	In          bool    // the stretch before was of the same burn
	Fast        float64 // how many seconds it tells for one, where that is more than any clock is off; else 0
}

// known is the rate that is certain, or 1.
func (f *Rate) known() float64 { return max(1, f.Fast) }

// hear weighs a stretch in which the counter gained dr. The first of a burn is
// left out: a counter of coarse steps counts a part of its first one before it.
func (f *Rate) hear(w *Tally, dr float64, o *Options) {
	whole := w.whole(o)
	switch {
	case whole && f.In:
		f.Lit += w.Est
		f.Gained += dr
	case whole:
		f.Runs++
	}
	f.In = whole
}

// blur is what rounding may add to the gains of all burns together, s: it is as
// often less as more.
func (f *Rate) blur(step float64, o *Options) float64 {
	return o.RateSure * (step + o.CounterSlop) * math.Sqrt(f.Runs)
}

// fast gives how many seconds the counter tells for one, likely and at most; 1
// where it is not certain that it runs fast.
func (f *Rate) fast(step float64, o *Options) (likely, most float64) {
	blur := f.blur(step, o)
	if f.Gained-blur <= f.Lit*(1+o.Drift) {
		return 1, 1
	}
	return f.Gained / f.Lit, (f.Gained + blur) / f.Lit
}

// excess is what the counter may have told beyond what burned, s.
func (f *Rate) excess(step float64, o *Options) float64 {
	_, most := f.fast(step, o)
	return f.Ran * (1 - 1/most)
}

// outran reports whether a second reading is more than there was time for although
// the flame burned all of it: the counter is fast, and another one would be far off.
func (s *State) outran(t reading.Instant, r float64, o *Options) bool {
	dr, d := r-s.Counter.Value, t.Seconds(s.Counter.At)
	return s.Counter.Trial.Has && s.Tally.whole(o) && d-s.Tally.Est <= o.ClockRound && s.Counter.gallops(dr, d, o)
}

// gallops reports whether a counter gained more than the time that passed, but no
// more than the same counter can.
func (c *Counter) gallops(dr, dt float64, o *Options) bool { return dr > dt && dr <= dt*(1+o.RateMost) }

// whole reports whether the flame burned through all that the tally covers.
func (a *Tally) whole(o *Options) bool {
	return !a.Gap && a.Low > 0 && a.High-a.Low <= 3*o.Drift*a.High
}

// rated gives what burned up to t by what a counter gained, without its own rate,
// for all that it was believed before too, and tells once of one that is faster
// than any clock.
func (s *State) rated(t reading.Instant, dr float64, o *Options) Span {
	f, step := &s.Counter.Rate, s.Counter.quantum()
	f.hear(&s.Tally, dr, o)
	most := dr
	if !s.Counter.plausible(dr, t.Seconds(s.Counter.At), o) {
		dr = s.Tally.Est
	}
	f.Ran += dr
	b, off := Span{dr * (1 - o.Drift), dr, most * (1 + o.Drift)}, f.excess(step, o)
	b.Low, f.Off = b.Low-(off-f.Off), off
	if k, _ := f.fast(step, o); k > 1+o.CounterRate {
		b.Est /= k
		if f.Fast == 0 {
			s.jump(t)
		}
		f.Fast = k
	}
	return b
}
