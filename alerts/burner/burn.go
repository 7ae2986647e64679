package burner

import (
	"time"

	"heaterd/ingest/reading"
)

// Burn is one unbroken lit period that has ended.
type Burn struct {
	Start, StartLow, StartHigh reading.Instant // when it began, and between which instants
	End, EndLow, EndHigh       reading.Instant
	Seconds                    float64 // s, lit

	Silent      bool          // it ended inside a silence: nobody saw it
	StartUnseen bool          // it burned at the first sample: it began at an unknown time before
	Inferred    bool          // the flame never showed it, only the counter did
	Gap         time.Duration // between the samples that its end lies between

	Before, After  Around          // the quantities just before and just after the end
	CallFell       reading.Instant // when a call for heat last ended, 0 never
	SupplyFell     reading.Instant // when the mains were last lost, 0 never
	TempStart      float32         // °C
	TempEnd        float32         // °C, the warmer of just before and just after the end
	TempEndRate    float32         // °C/h towards the end
	HasTemp        bool
	HasTempEndRate bool
}

// Around is what a node last said, besides its flame, at some instant.
type Around struct {
	At     reading.Instant
	TempAt reading.Instant  // when Temp was said
	Temp   float32          // °C
	Fuel   float32          // ratio
	Has    reading.Quantity // of Temp, Fuel, Call and Supply: which were ever said
	On     reading.Quantity // of Call and Supply: which were true
}

// Carries reports whether every quantity of q was said.
func (a Around) Carries(q reading.Quantity) bool { return a.Has&q == q }

const around = reading.Temp | reading.Fuel | reading.Call | reading.Supply

func (a *Around) take(x *reading.Sample) {
	has := x.Has & around
	if has == 0 {
		return
	}
	a.At = x.At
	a.Has |= has
	a.On = a.On&^has | x.On&has
	if has&reading.Temp != 0 {
		a.Temp, a.TempAt = x.Temp, x.At
	}
	if has&reading.Fuel != 0 {
		a.Fuel = x.Fuel
	}
}

// hear notes what falls with this sample and the slope of the temperature.
func (a *Around) hear(s *State, x *reading.Sample, o *Options) {
	gone := a.On & x.Has &^ x.On
	if gone&reading.Call != 0 {
		s.Fell.Call = x.At
	}
	if gone&reading.Supply != 0 {
		s.Fell.Supply = x.At
	}
	if s.Burning && x.Carries(reading.Temp) && (!x.Carries(reading.Flame) || x.Lit()) {
		s.Slope.take(x.At, x.Temp, o)
	}
}

type falls struct{ Call, Supply reading.Instant }

// slope keeps three points of the temperature for its rate of change.
type slope struct {
	OldAt, MidAt, NewAt reading.Instant
	Old, Mid, New       float32
}

func (p *slope) take(t reading.Instant, c float32, o *Options) {
	if p.MidAt == 0 {
		p.OldAt, p.Old, p.MidAt, p.Mid = t, c, t, c
	}
	if t.Sub(p.MidAt) >= o.SlopeOver {
		p.OldAt, p.Old, p.MidAt, p.Mid = p.MidAt, p.Mid, t, c
	}
	p.NewAt, p.New = t, c
}

// rate gives °C/h over at least the shortest stretch.
func (p *slope) rate(o *Options) (float32, bool) {
	d := p.NewAt.Sub(p.OldAt)
	if p.MidAt == 0 || d < o.SlopeOver {
		return 0, false
	}
	return (p.New - p.Old) / float32(d.Hours()), true
}

// interval lies between two words on the flame.
type interval struct {
	from, to reading.Instant
	was, is  bool    // lit
	span     float64 // s
	gain     float64 // s that the counter tells were burned in it
	counted  bool    // gain may be used
	silent   bool
	blur     float64 // s to which the counter places a change
	stepped  bool    // the unit's clock was put forward in it: it was shorter than it seems
}

// witness follows the flame, or the counter where there is no flame, from
// burn to burn. It reports whether a burn ended and puts it in out.
func (s *State) witness(x *reading.Sample, came reading.Instant, expected time.Duration, o *Options, out *Burn) bool {
	if x.Carries(reading.Runtime) && s.Counter.Has && s.Counter.fits(x.At, x.Runtime, o) {
		s.Counter.learn(x.Runtime)
	}
	v, ok := s.interval(x, expected, o)
	if !ok {
		return false
	}
	late := 0.0
	if came != 0 {
		late = came.Seconds(x.At)
	}
	s.beat(&v, float64(s.Flame.Late)-late, o)
	s.purge(x, &v, o)
	ended := s.step(x, v, o, out)
	if x.Carries(reading.Flame) {
		s.tellFlame(x.At, v.is, expected, o)
	} else {
		s.extendBlind(x.At)
	}
	s.Flame = Flame{At: x.At, Known: true, Lit: v.is, Runtime: x.Runtime, HasRuntime: x.Carries(reading.Runtime), Late: float32(late)}
	return ended
}

// interval describes what lies between the newest word on the flame and x;
// not ok if x says nothing about it.
func (s *State) interval(x *reading.Sample, expected time.Duration, o *Options) (interval, bool) {
	f, c := &s.Flame, &s.Counter
	silence := o.silence(expected)
	v := interval{from: f.At, to: x.At, was: f.Lit, is: x.Lit(), span: x.At.Seconds(f.At)}
	v.silent = f.Known && v.span > silence
	if x.Carries(reading.Runtime) && f.HasRuntime {
		dr := x.Runtime - f.Runtime
		v.gain = min(max(0, dr), v.span)
		v.counted = c.plausible(dr, v.span, o) && !c.Distrust && c.quantum() <= v.span/4
	}
	v.blur = c.quantum() + o.ClockRound
	if x.Carries(reading.Flame) {
		return v, true
	}
	deaf := s.Heard&reading.Flame == 0 || v.span > silence
	if !x.Carries(reading.Runtime) || !deaf {
		return v, false
	}
	v.is = s.infer(v, o)
	return v, true
}

// infer tells from the counter alone whether the heater is lit.
func (s *State) infer(v interval, o *Options) bool {
	switch {
	case !v.counted && v.gain > 0: // coarse steps
		return true
	case !v.counted:
		return v.was && v.to.Seconds(s.Counter.Moved) <= s.Counter.quantum()+s.Regular
	case v.was:
		return v.gain >= v.span-o.Hidden-v.blur
	}
	return v.gain >= 1 && !v.silent
}

// step takes one interval and gives the burn that ended in it.
func (s *State) step(x *reading.Sample, v interval, o *Options, out *Burn) bool {
	switch {
	case !s.Flame.Known:
		if v.is {
			s.unseenStart(x, v)
		}
	case !v.was && v.is:
		s.Starts++
		s.alight(x, v.start())
	case v.was && !v.is:
		s.out(x, v.end(), v, o, out)
		return true
	case v.was && v.is && v.broke(o):
		s.out(x, v.endInside(), v, o, out)
		s.Starts++
		s.alight(x, v.startInside())
		return true
	case !v.was && !v.is && v.hides(o):
		s.Starts++
		s.alight(x, v.startHidden())
		s.Burn.Inferred = true
		s.out(x, v.endHidden(), v, o, out)
		return true
	}
	return false
}

// unseenStart begins the burn of a heater that is lit at its first sample. A
// counter that reads no more than the record is long tells that it was lit
// within the record.
func (s *State) unseenStart(x *reading.Sample, v interval) {
	b := Burn{Start: v.to, StartLow: min(max(s.Began, v.from), v.to), StartHigh: v.to, StartUnseen: true}
	if x.Carries(reading.Runtime) && x.Runtime <= v.to.Seconds(s.Began)+2 {
		b.Start = max(v.to.AddSeconds(-x.Runtime), b.StartLow)
		s.Starts++
	}
	s.alight(x, b)
}

// alight begins a burn with the edge at which it began.
func (s *State) alight(x *reading.Sample, b Burn) {
	near := s.Near
	near.take(x)
	if near.Carries(reading.Temp) {
		b.TempStart, b.HasTemp = near.Temp, true
	}
	s.Burn, s.Burning, s.Slope = b, true, slope{}
}

// out ends the burn in progress at edge.
func (s *State) out(x *reading.Sample, e edge, v interval, o *Options, b *Burn) {
	*b = s.Burn
	b.End, b.EndLow, b.EndHigh = max(e.at, b.Start), max(e.low, b.StartLow), e.high
	b.Seconds = b.End.Seconds(b.Start)
	b.Silent, b.Gap = v.silent, v.to.Sub(v.from)
	b.Before, b.After = s.Near, s.Near
	b.After.take(x)
	b.CallFell, b.SupplyFell = s.Fell.Call, s.Fell.Supply
	b.TempEnd, b.HasTemp = b.Before.Temp, b.Before.tells(v.from, o)
	if !v.silent && b.After.tells(v.to, o) && (!b.HasTemp || b.After.Temp > b.TempEnd) {
		b.TempEnd, b.HasTemp = b.After.Temp, true
	}
	b.TempEndRate, b.HasTempEndRate = s.Slope.rate(o)
	s.Burning = false
	s.Ends++
}

// tells reports whether the temperature is of about an instant: a probe that
// came off hours ago tells nothing of it.
func (a Around) tells(at reading.Instant, o *Options) bool {
	return a.Carries(reading.Temp) && at.Sub(a.TempAt) <= o.TempFresh
}

// GiveUp ends the burn in progress of a node that is not waited for any more,
// where its last word is older than a silence at now. Nobody saw the end: it
// is put at that word, and lies between it and now.
func (s *State) GiveUp(now reading.Instant, expected time.Duration, o *Options) (b Burn, ended bool) {
	v := interval{from: s.Flame.At, to: now, span: now.Seconds(s.Flame.At), was: true, silent: true}
	if !s.Burning || v.span <= o.silence(expected) {
		return Burn{}, false
	}
	s.out(&reading.Sample{At: now}, edge{v.from, v.from, v.to}, v, o, &b)
	return b, true
}
