package burner

import (
	"math"

	"heaterd/ingest/reading"
)

// RanThrough reports whether the counter proves that the flame, lit by the newest
// word on it, burned on up to x, whatever x says of it: it gained all the time that
// passed, and it is known to stand still sooner than a flame that failed lights
// again. Where the thermostat or the mains are off nothing is proved.
func (s *State) RanThrough(x *reading.Sample, o *Options) bool {
	f := &s.Flame
	if !f.Lit || !f.HasRuntime || !x.Carries(reading.Flame) || !s.stopsWithFlame(o) {
		return false
	}
	near := s.Near
	near.take(x)
	return s.RanFrom(f.At, f.Runtime, x, o) && near.Has&^near.On&(reading.Call|reading.Supply) == 0
}

// RanFrom reports whether the counter gained all the time from when it read a
// runtime, s, to x, as far as it can tell.
func (s *State) RanFrom(at reading.Instant, runtime float64, x *reading.Sample, o *Options) bool {
	off := math.Abs(x.Runtime - runtime - x.At.Seconds(at))
	return x.Carries(reading.Runtime) && off <= o.roughly(s.Counter.quantum())
}

// MayRunOn reports whether nothing but the newest word on the flame tells that the
// last burn has ended: a counter that stops with it had run on until then.
func (s *State) MayRunOn(last *Burn, o *Options) bool {
	ran := s.Flame.At.Seconds(last.End) <= o.roughly(s.Counter.quantum())
	return !s.Burning && ran && s.stopsWithFlame(o)
}

// stopsWithFlame reports whether a counter that is believed stands still as soon as
// the flame is out.
func (s *State) stopsWithFlame(o *Options) bool {
	c := &s.Counter
	sound := c.Followed && c.Quantum > 0 && !c.Trial.Has && !c.Distrust && c.Rate.Fast == 0
	return sound && !c.runsOn(o) && c.Purge.stopsAtOnce(o.promptly(c.quantum())*o.GapFactor/s.Regular, o)
}

// stopsAtOnce reports whether the counter stood still at once after as many stops as
// show it: of those of a counter of the flame a share falls so soon after a sample. A
// fan stands still at once only where the mains fail.
func (p *Purge) stopsAtOnce(share float64, o *Options) bool {
	least := min(math.MaxUint8, max(float64(o.Prompt), share*float64(p.First)/promptShare))
	return float64(p.Prompt) >= least && p.FirstRan <= p.First/2
}

// roughly is how far a gain may be from the time that passed, by a counter's steps
// and by whole-second times, s.
func (o *Options) roughly(step float64) float64 { return step + o.ClockRound }

// promptly is what a counter may gain at most in the interval of a stop for a flame
// that failed and lit again to be seen by it, s; below 0 where its steps are too
// coarse to tell.
func (o *Options) promptly(step float64) float64 { return o.RelitLeast - 2*o.roughly(step) }
