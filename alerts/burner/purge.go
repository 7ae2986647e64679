package burner

import (
	"math"
	"math/bits"

	"heaterd/ingest/reading"
)

// Purge is how a counter goes on after the stops. One that counts the fan tells
// the purge too, and where that is shorter than the time between samples it does so
// within the interval of the stop, or a little beyond it. A burn that nobody saw may
// lie in any dark interval; one that comes right after each stop whose interval the
// counter ran through is the fan.
type Purge struct {
	Ends           uint32  // burns that had ended when this counter began
	Taken          float32 // s gained in the interval of the newest stop
	Least          float32 // s, a bound on the purge: the least that the counter gained around a stop
	Odds           float32 // against a counter that stops with the flame, natural logarithm
	Over, Ahead    float32 // s by which the counter's bound, and its estimate, are above the flame's
	First, Later   uint16  // dark intervals right after a stop, and others
	FirstRan       uint16  // those right after a stop in which it ran on
	LaterRan       uint16  // others in which it gained
	Parts          uint16  // sixteenths of an interval that it was seen to gain at stops, one bit each
	Stood          uint8   // stops in a row after which it stood still
	Turns          uint8   // stops at which it gained less than half an interval, next after one of more
	Prompt         uint8   // stops at which it gained so little that it stands still as soon as the flame is out; see State.RanThrough
	Turned, Filled bool    // the newest interval was a stop; the counter ran through all of that
	Known          bool    // Least is
}

// What a stop tells of a purge. Common practice, no source.
const (
	coarseStep    = 0.25 // × the interval: a counter of coarser steps does not tell how far it ran through
	intervalParts = 16   // in which the places of stops in their intervals are counted
	shareMost     = 0.9  // of stops after which it is taken to run on: a few that it stood still after prove a change
	promptShare   = 3    // that a counter stood still at once after one in so many of the stops that are expected to show it is enough
	nearMost      = 0.99 // of the interval that a purge is taken to fill: no single stop makes it certain
)

// purge takes in an interval through which both the flame and the counter are seen.
func (s *State) purge(x *reading.Sample, v *interval, o *Options) {
	c, f := &s.Counter, &s.Flame
	dr := x.Runtime - f.Runtime
	seen := x.Carries(reading.Flame|reading.Runtime) && f.Known && f.HasRuntime
	if !seen || v.span > s.Regular || !c.plausible(dr, v.span, o) {
		c.Purge.Turned = false
		return
	}
	if c.Sooty && c.Purge.Turned && c.Purge.Filled && !v.is {
		c.Purge.Turned = false // most likely the flame burned on unseen, and stopped later
		return
	}
	c.Purge.look(v, max(0, dr), c.quantum(), o)
	if v.was && !v.is && dr <= o.promptly(c.quantum()) && x.Has&^x.On&reading.Supply == 0 && c.Purge.Prompt < math.MaxUint8 {
		c.Purge.Prompt++ // without mains a fan stands still too
	}
}

// look takes in an interval in which a counter of some step gained dr.
func (p *Purge) look(v *interval, dr, step float64, o *Options) {
	turned, filled := p.Turned, p.Filled
	p.Turned = v.was && !v.is
	if turned || p.Turned {
		defer p.weigh(v.span)
	}
	ran := dr > 2*o.ClockRound
	switch {
	case p.Turned:
		p.stop(v, dr, step, o)
	case v.was:
	case turned:
		if filled {
			p.bound(p.Taken + float32(dr))
		}
		if !v.is {
			p.after(ran, filled, o)
		}
	case !v.is:
		p.Later++
		if ran {
			p.LaterRan++
		}
	}
	if p.First+p.Later > math.MaxUint16/2 { // what is long ago counts less
		p.First, p.Later, p.FirstRan, p.LaterRan, p.Stood = p.First/2, p.Later/2, p.FirstRan/2, p.LaterRan/2, p.Stood/2
	}
}

// stop takes in the interval of a stop.
func (p *Purge) stop(v *interval, dr, step float64, o *Options) {
	if half := v.span / 2; float64(p.Taken) > half && dr <= half && p.Turns < math.MaxUint8 {
		p.Turns++
	}
	p.Taken, p.Filled = float32(dr), dr >= v.span-2*o.ClockRound-step
	if !p.Filled || step > coarseStep*v.span {
		p.bound(p.Taken)
	}
	p.Parts |= 1 << min(intervalParts-1, int(intervalParts*dr/v.span))
}

// bound takes in that no purge is longer than this, s.
func (p *Purge) bound(s float32) {
	if !p.Known || s < p.Least {
		p.Least, p.Known = s, true
	}
}

// after takes in a dark interval right after a stop.
func (p *Purge) after(ran, filled bool, o *Options) {
	p.First++
	switch {
	case ran && filled:
		p.FirstRan++
		p.Stood = 0
	case ran:
		p.LaterRan++ // it had stopped already
	case p.Stood < math.MaxUint8:
		p.Stood++
	}
	if p.gone(o) {
		*p = Purge{Ends: p.Ends, Over: p.Over, Ahead: p.Ahead}
	}
}

// gone reports whether it stood still after more stops in a row than one does that
// ran on after so many of those before.
func (p *Purge) gone(o *Options) bool {
	share := min(float64(p.FirstRan)/max(1, float64(p.First)-float64(p.Stood)), shareMost)
	return -math.Log1p(-share)*float64(p.Stood) >= o.Unlikely
}

// weigh takes the odds anew, by the time between samples, s.
func (p *Purge) weigh(every float64) { p.Odds = float32(max(p.runsOn(), p.short(every))) }

// runsOn gives the odds against burns that may lie in any dark interval having come
// right after stops as often as the counter ran on there, natural logarithm
// (Chernoff's bound on a binomial count; from memory).
func (p *Purge) runsOn() float64 {
	n := float64(p.FirstRan) + float64(p.LaterRan)
	if n == 0 || p.First == 0 {
		return 0
	}
	share, a := float64(p.First)/(float64(p.First)+float64(p.Later)), float64(p.FirstRan)/n
	if a <= share {
		return 0
	}
	odds := a * math.Log(a/share)
	if a < 1 {
		odds += (1 - a) * math.Log((1-a)/(1-share))
	}
	return n * odds
}

// short gives the odds against stops that fall anywhere between two samples never
// having been told to lie as near to the first one as the purge is long, natural
// logarithm. Stops that keep step with the samples tell nothing: they must have been
// told to lie everywhere else, and only one that comes early in an interval after
// one that came late counts.
func (p *Purge) short(every float64) float64 {
	none := bits.TrailingZeros16(p.Parts)
	if everywhere := ^uint16(0) << none; p.Parts != everywhere || none < 2 {
		return 0
	}
	return -math.Log1p(-min(2*float64(p.Least)/every, nearMost)) * float64(p.Turns)
}

// suspect is from which odds on, natural logarithm, the bounds allow for a counter
// that counts the fan: 1 in 20. Common practice, no source.
const suspect = 3

// purged is what all purges so far may have come to, s.
func (s *State) purged() float64 {
	p := &s.Counter.Purge
	if !p.Known || p.Odds < suspect {
		return 0
	}
	return float64(s.Ends-p.Ends) * (float64(p.Least) + s.Counter.quantum())
}

// exceeds takes in by how much the counter tells more than the flame.
func (p *Purge) exceeds(burned Span, w *Tally) {
	p.Over += float32(max(0, burned.Low-w.Low))
	if !w.Gap {
		p.Ahead += float32(burned.Est - w.Est)
	}
}

// fanned takes back what a counter told beyond the flame that is found to count
// the fan.
func (s *State) fanned() {
	p := &s.Counter.Purge
	s.Sum.Low -= float64(p.Over)
	s.Sum.Est -= float64(p.Ahead)
	p.Ends, p.Over, p.Ahead = s.Ends, 0, 0
}
