package burner

import (
	"math"

	"heaterd/ingest/reading"
)

// Counter is the node's cumulative run time and what is believed of it.
type Counter struct {
	At       reading.Instant // anchor: the last reading believed
	Value    float64         // s, at the anchor
	Newest   reading.Instant // newest reading, believed or not
	Moved    reading.Instant // when it last advanced
	Quantum  float64         // s, in which it counts; 0: not known yet, it never moved from 0
	Odd      float64         // s by which it has contradicted the flame lately
	Missed   float64         // s the flame may have burned beyond the last gain: counts if the counter stopped there
	Rate     Rate            // how it runs beside the flame
	Strife   Strife          // what it told against the flame that each time alone may pass
	Prior    Prior           // the reading before the anchor
	Purge    Purge           // how it goes on after the stops
	Fall     Fall            // what it may hide
	Trial    Trial           // a reading that fits no anchor and waits for a second one
	Has      bool
	Stood    bool // it stood still since the anchor while the flame burned for longer than a step
	Followed bool // a second reading has fitted this counter
	Distrust bool // it contradicts the flame: not used to place burns
	Sooty    bool // the flame is often not seen though it burns, says whoever folds the samples
}

// Trial is a counter reading that may be a single wild value, or the first
// after a restart, a change of unit or a fault.
type Trial struct {
	At    reading.Instant
	Value float64 // s
	Tally Span    // what the flame tells from the anchor to it
	Gap   float64 // s, the interval in which the break lies
	Next  bool    // it came next after the anchor
	Again bool    // one before it fitted neither the anchor nor this one
	Has   bool
}

// coarsest is the coarsest quantum met: a whole hour, s.
const coarsest = 3600

// quantumOf gives the coarsest usual quantum not above most of which r is a
// multiple: hours, halves, quarters and sixths of one, tenths and hundredths, a few
// minutes or one, and parts of a minute, for a unit that looks at the flame every 15
// or 20 s counts in such steps; else 1 s.
func quantumOf(r, most float64) float64 {
	for _, q := range [...]float64{coarsest, 1800, 900, 600, 360, 300, 240, 180, 120, 90, 72, 60, 45, 40, 36, 30, 25, 24, 20, 18, 15, 12, 10, 9, 6} {
		if q > most {
			continue
		}
		if n := r / q; math.Abs(n-math.Round(n))*q < 0.01 {
			return q
		}
	}
	return 1
}

// learn narrows the quantum by a reading that is believed.
func (c *Counter) learn(r float64) {
	switch {
	case r == 0 || c.Quantum == 1:
	case c.Quantum == 0:
		c.Quantum = quantumOf(r, coarsest)
	default:
		c.Quantum = quantumOf(r, c.Quantum)
	}
}

// quantum is what the counter's readings are blurred by, s.
func (c *Counter) quantum() float64 { return max(1, c.Quantum) }

// slack is the rounding between the first and the last reading of this
// counter, s: it does not add up in between.
func (c *Counter) slack() float64 {
	if !c.Has {
		return 0
	}
	return c.quantum()
}

// overdue is how long the flame may be lit without the counter moving before it is
// stuck, s: one whose step is not known yet, for it stood at 0 all along, may count
// in the coarsest.
func (c *Counter) overdue(o *Options) float64 {
	if c.Quantum == 0 {
		return coarsest + o.StuckSlop
	}
	return max(o.StuckAfter, c.Quantum+o.StuckSlop)
}

// plausible reports whether a counter can gain dr in dt seconds.
func (c *Counter) plausible(dr, dt float64, o *Options) bool {
	q := c.Quantum
	if q == 0 {
		q = quantumOf(dr, coarsest)
	}
	return dr >= -o.CounterBack && dr <= dt*(1+o.CounterRate)*c.Rate.known()+o.CounterSlop+q
}

// fits reports whether a reading can follow the anchor.
func (c *Counter) fits(t reading.Instant, r float64, o *Options) bool {
	return c.plausible(r-c.Value, t.Seconds(c.At), o)
}

// fitsTrial reports whether a reading can follow the reading on trial.
func (c *Counter) fitsTrial(t reading.Instant, r float64, o *Options) bool {
	return c.Trial.Has && c.plausible(r-c.Trial.Value, t.Seconds(c.Trial.At), o)
}

// tellCounter weighs a reading of the counter against the anchor, the reading
// on trial and the flame.
func (s *State) tellCounter(t reading.Instant, r float64, o *Options) {
	s.extendBlind(t)
	c := &s.Counter
	previous := c.Newest
	c.Newest = t
	switch {
	case !c.Has:
		s.Sum = s.Sum.add(s.Tally.Span)
		c.Purge.Ends = s.Ends
		s.adopt(t, r)
	case c.fits(t, r, o) || s.outran(t, r, o):
		s.follows(t, r, o)
	case c.fitsTrial(t, r, o):
		if c.wild(o) {
			s.skip(o)
		} else {
			s.replace(o)
		}
		s.follows(t, r, o)
	default:
		gap := t.Seconds(max(previous, c.At))
		c.Trial = Trial{At: t, Value: r, Tally: s.Tally.Span, Gap: gap, Next: previous == c.At, Again: c.Trial.Has, Has: true}
	}
}

// adopt begins a new anchor, and a new count of what the flame tells.
func (s *State) adopt(t reading.Instant, r float64) {
	c := &s.Counter
	c.At, c.Value, c.Has, c.Stood = t, r, true, false
	c.Trial, c.Prior = Trial{}, Prior{}
	c.learn(r)
	s.Tally = Tally{To: t}
}

// forget drops what the counter may still change in the sum, which a reading of
// the meter has replaced.
func (c *Counter) forget(ends uint32) {
	c.Rate.Ran, c.Rate.Off, c.Fall.Hid = 0, 0, 0
	c.Purge.Ends, c.Purge.Over, c.Purge.Ahead = ends, 0, 0
	c.Prior = Prior{}
}

// replace gives up the anchor for the reading on trial. Between the two only
// the flame tells; in the interval of the break itself not even that.
func (s *State) replace(o *Options) {
	c := &s.Counter
	trial, rest, to := c.Trial, s.Tally.sub(c.Trial.Tally), s.Tally.To
	s.Sum = s.Sum.add(s.broken(o))
	s.fell(o)
	s.Slack += c.slack()
	if trial.Value < c.Value {
		s.Restarts++
	} else {
		s.jump(trial.At)
	}
	if trial.Value >= c.Value || !c.Followed {
		c.Quantum = 0 // another unit may count in other steps; a wild value tells nothing
	}
	c.Followed = false
	c.Odd, c.Distrust, c.Strife = 0, false, Strife{}
	s.Sum.Low -= s.purged()
	c.Purge = Purge{Ends: s.Ends}
	if !c.gallops(trial.Value-c.Value, trial.At.Seconds(c.At), o) {
		c.Rate = Rate{}
	}
	s.adopt(trial.At, trial.Value)
	s.Tally = Tally{Span: rest, To: to, Intervals: 1, Gap: to.Seconds(trial.At) > s.Regular}
}

// powerless is how many regular intervals a unit says nothing before a counter
// that begins anew is laid to its power, which is mostly the heater's too: as
// many as make a silence. Common practice, no source.
const powerless = 3

// broken bounds what burned between the anchor and the reading on trial: a
// restarted counter that may have begun at 0 since the anchor speaks for at
// least what it reads, in the estimate, and after a silence for all of it;
// another unit's would not, so not in the lower bound.
func (s *State) broken(o *Options) Span {
	c := &s.Counter
	dt, dr := c.Trial.At.Seconds(c.At), c.Trial.Value-c.Value
	w := c.Trial.Tally
	low := w.Low
	w.Low = max(0, w.Low-c.Trial.Gap)
	w.High = min(dt, w.High+c.Trial.Gap)
	if dr < 0 && c.Trial.Value <= dt {
		w.Est = max(w.Est, c.Trial.Value)
		if c.Trial.Gap > powerless*s.Regular {
			w.Est = max(low, c.Trial.Value)
		}
	}
	if dr > dt && dr <= dt+o.ClockStep && !c.Trial.Again {
		w.Est, w.High = dr, max(w.High, dr) // likelier than another unit that happens to read so near
	}
	return w.ordered()
}

// follows closes the stretch from the anchor to a reading that fits it.
func (s *State) follows(t reading.Instant, r float64, o *Options) {
	c := &s.Counter
	dr := max(0, r-c.Value)
	if c.Trial.Has && c.fitsTrial(t, r, o) {
		s.either(t, r, dr, o)
		return
	}
	prior := c.remember(&s.Tally)
	c.Trial, c.Followed = Trial{}, true
	c.learn(r)
	if s.waits(t, dr, o) {
		return
	}
	prior.Gained = s.weigh(t, r, dr, o)
	s.Sum = s.Sum.add(prior.Gained)
	if dr > 0 {
		c.Moved = t
	}
	s.adopt(t, max(r, c.Value))
	c.Prior = prior
}

// either closes a stretch in which a reading on trial was wild or true, and
// nobody can tell which.
func (s *State) either(t reading.Instant, r, dr float64, o *Options) {
	trial := s.Counter.Trial
	since := exactly(max(0, r-trial.Value))
	if s.mayHide(trial.At, t, r) {
		since.High = max(since.High, s.Tally.High-trial.Tally.High)
	}
	burned := exactly(dr).join(s.broken(o).add(since))
	if s.mayHide(s.Counter.At, t, r) {
		burned.High = max(burned.High, s.Tally.High)
	}
	s.Sum = s.Sum.add(burned)
	s.adopt(t, r)
}

// waits keeps the stretch open while the flame burns and the counter does not
// move: it may count in coarse steps, or be stuck.
func (s *State) waits(t reading.Instant, dr float64, o *Options) bool {
	c, w := &s.Counter, &s.Tally
	unsure := c.Quantum == 0 && w.High > 0
	if dr > 0 || w.Est <= o.ClockRound && !unsure {
		return false
	}
	stopped := s.stopped(o)
	if (w.Low > c.overdue(o) || stopped) && !c.Distrust {
		c.Distrust = true
		s.jump(t)
	}
	c.Stood = c.Stood || stopped || w.Low > c.quantum()+2*o.ClockRound
	return true
}

// weigh compares what the counter gained with what the flame tells.
func (s *State) weigh(t reading.Instant, r, dr float64, o *Options) Span {
	c, w := &s.Counter, &s.Tally
	burned := s.rated(t, dr, o)
	may := w.Span // burned, by the flame, where the counter may have stopped before the anchor
	may.High += c.Missed
	v := c.Strife.hear(w, dr/c.Rate.known(), t.Seconds(c.At), c.quantum()+2*o.ClockRound, o)
	if v.by > 0 || c.runsOn(o) {
		s.contradict(t, v.by, o)
	} else if c.Odd = max(0, c.Odd-t.Seconds(c.At)*o.Relent); c.Odd == 0 && float64(c.Strife.Odds) < o.Unlikely && !c.runsOn(o) {
		c.Distrust = false
	}
	if v.by > 0 || c.Distrust {
		burned = burned.join(may)
		burned.Low, burned.High = burned.Low-v.over, burned.High+v.short
	}
	if c.Distrust {
		burned.Est = w.Est
	} else {
		c.Purge.exceeds(burned, w)
	}
	if c.Moved == 0 && !w.Gap && w.High-w.Low < c.quantum() {
		burned.Est = w.Est // part of a first step may have been counted before anybody looked
	}
	c.Missed = 0
	if !w.Gap && !s.alone() {
		c.Missed = max(0, w.High-burned.High)
	}
	switch {
	case c.Stood: // what it gained may be of a later burn only
		burned.High = max(burned.High, may.High, s.since(t))
	case s.mayHide(c.At, t, r):
		burned.High = max(burned.High, w.High)
	}
	return c.hiding(w, burned, o)
}

// contradict notes by how much the witnesses differ. A little is laid to lost
// samples; much is a jump.
func (s *State) contradict(t reading.Instant, by float64, o *Options) {
	c := &s.Counter
	c.Odd = min(c.Odd+by, 2*o.Disagree)
	if (c.Odd > o.Disagree || c.runsOn(o)) && !c.Distrust {
		c.Distrust = true
		s.jump(t)
	}
	if c.runsOn(o) {
		s.fanned()
	}
}

// runsOn reports whether the counter is known to run on when the flame is out.
func (c *Counter) runsOn(o *Options) bool {
	return c.Strife.Tail.Times >= o.RunsOn || float64(c.Purge.Odds) >= o.Unlikely
}

// mayHide reports whether the counter may have restarted from 0 between an
// earlier reading and this one and still read more than then: it now reads no
// more than the time that passed.
func (s *State) mayHide(from, t reading.Instant, r float64) bool {
	looked := s.Heard&reading.Flame != 0 || s.Tally.Gap
	return looked && r <= t.Seconds(from)+s.Counter.quantum()
}

// open is what burned since the anchor, by what is known so far.
func (s *State) open() Span {
	c, w := &s.Counter, s.Tally.Span
	switch {
	case !c.Has:
		return w
	case c.Trial.Has: // until a second reading tells
		o := Options{} // no allowance for a clock set back before the trial is decided
		return s.broken(&o).add(w.sub(c.Trial.Tally))
	case c.Newest > c.At:
		if w.Low == 0 && c.Quantum == 1 {
			w.Est = 0 // the counter saw it end at once
		}
		w.Low = 0
	}
	w.High = max(w.High+c.Missed, s.since(s.Tally.To))
	if s.alone() && !s.Tally.Gap {
		w.High = min(w.High, c.ahead())
	}
	return w
}

// alone reports whether nothing but the counter was ever heard.
func (s *State) alone() bool { return s.Heard&reading.Flame == 0 }

// ahead is what may have burned since a counter moved last, beyond its
// rounding, s.
func (c *Counter) ahead() float64 {
	if c.Quantum == 0 {
		return coarsest
	}
	return 0
}
