package burner

import "math"

// Strife is what the counter told against the flame in stretches each of which
// alone may pass: for rounding, which does not add up, or for a burn or a break
// that fell between two samples, which is not missed every time.
type Strife struct {
	Lead, Lag   float64 // s the counter is ahead of the most, and behind the least, that the flame allows
	Over, Short float32 // s that passed for burns, and for breaks, that nobody saw
	Odds        float32 // against nobody having seen any of those, natural logarithm
	Tail        Tail
}

// verdict is by how many seconds the witnesses contradict each other, 0 where
// they agree or may, and what passed before and now does not, s.
type verdict struct{ by, over, short float64 }

// hear weighs a stretch of d seconds in which the counter gained dr.
func (f *Strife) hear(w *Tally, dr, d, slack float64, o *Options) verdict {
	was := *f
	f.turn(w, o)
	if f.Tail.Turned {
		f.Tail.turn(w, dr)
	}
	f.Lead = max(0, f.Lead+dr*(1-o.CounterRate)-w.High)
	f.Lag = max(0, f.Lag+w.Low-dr*(1+o.CounterRate))
	by := max(f.Lead, f.Lag)
	f.both(by > slack)
	switch {
	case by <= slack:
		f.relent(d, o)
		if !f.Tail.Turned && w.High == 0 && dr <= 0 {
			f.Tail.stopped()
		}
		return verdict{}
	case !f.passes(by, w, d, o):
		v := verdict{by, was.Lead + float64(was.Over), was.Lag + float64(was.Short)}
		if w.High == 0 && f.Lead > f.Lag {
			v.over += f.Tail.ranOn()
		}
		f.Lead, f.Lag, f.Over, f.Short = 0, 0, 0, 0
		return v
	case f.Lead >= f.Lag:
		f.Over, f.Lead = f.Over+float32(f.Lead), 0
	default:
		f.Short, f.Lag = f.Short+float32(f.Lag), 0
	}
	return verdict{}
}

// both begins the odds anew where it is ahead after it was behind, or the other way
// round: burns and breaks shorter than the time between samples show as both, and a
// counter that is wrong as one of them.
func (f *Strife) both(differs bool) {
	if differs && (f.Lead >= f.Lag && f.Short > 0 || f.Lag > f.Lead && f.Over > 0) {
		f.Odds, f.Over, f.Short = 0, 0, 0
	}
}

// passes reports whether a burn, or a break, between two samples explains a
// difference, and whether it is still believable that nobody saw any of them.
func (f *Strife) passes(by float64, w *Tally, d float64, o *Options) bool {
	one := d / float64(max(1, w.Intervals))
	if w.Gap || by >= one-2*o.ClockRound {
		return false
	}
	f.Odds = float32(min(float64(f.Odds)-math.Log1p(-by/one), 1.2*o.Unlikely))
	return float64(f.Odds) < o.Unlikely
}

// turn notes a change of the flame. Two in a row are a burn or a break that was
// seen although it was short, as others may have been that were not.
func (f *Strife) turn(w *Tally, o *Options) {
	turned := w.High-w.Low > o.ClockRound && w.Intervals == 1 && !w.Gap
	if turned && f.Tail.Turned || w.Sights.Brief {
		f.Odds, f.Over, f.Short = 0, 0, 0
	}
	f.Tail.Turned = turned
}

// relent forgets with the time for which the two agree.
func (f *Strife) relent(d float64, o *Options) {
	f.Odds = max(0, f.Odds-float32(o.Unlikely*d/o.Forgiven))
	if f.Odds == 0 {
		f.Over, f.Short = 0, 0
	}
}
