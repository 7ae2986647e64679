package burner

import (
	"time"

	"heaterd/ingest/reading"
)

// State is what one heater's samples add up to. The zero value has heard
// nothing. Every field is of fixed size, so encoding/binary can write it.
type State struct {
	Began reading.Instant  // when the record began
	First reading.Instant  // first sample that told of flame or counter
	Last  reading.Instant  // newest sample of any kind
	Heard reading.Quantity // which of Flame and Runtime were ever sent

	Burning   bool   // a burn is in progress: Burn
	HaveWall  bool   // WallFrom and WallSum hold
	HaveMeter bool   // Meter does
	Beats     uint8  // intervals in a row that were as long as Beat, but for lost ones
	Beat      uint16 // 0.1 s

	Before float64 // s that may have burned before First and inside the record

	Sum   Span    // s burned up to Tally.Since
	Tally Tally   // what the flame tells since then
	Slack float64 // s of rounding that the stretches before this counter's add up to

	Counter Counter
	Flame   Flame
	Burn    Burn // the burn in progress

	Near  Around // last word on the quantities around an ending
	Slope slope
	Fell  falls

	Ends     uint32
	Starts   uint32
	Jumps    uint32
	Restarts uint32
	JumpAt   reading.Instant
	Regular  float64 // s, longest interval through which a flame is believed, by the newest sample
	Floor    float64 // least that the hours can be, s: below 0 where a meter reads less than it did when the unit was fitted
	Meter    Meter
	WallFrom reading.Instant // what burned since cannot exceed the time since …
	WallSum  float64         // … beyond this, s
}

// Meter is the last reading of the hour meter by a person, kept for the
// audit trail.
type Meter struct {
	At     reading.Instant
	Read   float64 // h, as given to Anchor
	Before float64 // h, the estimate it replaced
	Moved  float64 // h, sum of all corrections so far
	Step   float64 // h, this correction
	Beyond float64 // h, all of it where so much cannot have burned in the time since the record began: the meter stood higher all along
}

// Hours is how long the burner has run.
type Hours struct {
	Hours     float64 // h
	Low, High float64 // h; the truth lies between
	Run       float64 // h, the estimate without the corrections by hour meter: grows steadily, for differences
	Source    string  // counter, flame or both: which witnesses were heard; empty: none
	Burns     int     // burns that ended; the one in progress is not among them
	Ignitions int     // starts, seen or inferred; a burn in progress at the first sample is not among them
	Jump      bool    // the counter jumped, or contradicted the flame, at least once
}

// Take takes the next sample of the heater's node in order of measured time;
// one that is not later than the newest is ignored. came is when it arrived, 0
// unknown; expected is the usual time between samples, 0 unknown; begin is when the
// record began. It reports whether a burn ended, which is then in out.
func (s *State) Take(x *reading.Sample, came reading.Instant, expected time.Duration, begin reading.Instant, o *Options, out *Burn) (ended bool) {
	if s.Last != 0 && x.At <= s.Last {
		return false
	}
	s.Regular = o.regular(expected)
	told := x.Has & (reading.Flame | reading.Runtime)
	if told != 0 && s.Heard == 0 {
		s.begin(*x, expected, begin, o)
	}
	s.Heard |= told
	s.Near.hear(s, x, o)
	ended = s.witness(x, came, expected, o, out)
	if x.Carries(reading.Runtime) && x.Runtime >= 0 {
		s.tellCounter(x.At, x.Runtime, o)
	}
	s.Near.take(x)
	s.Last = x.At
	return ended
}

// begin notes the first sample, and what may have burned before it.
func (s *State) begin(x reading.Sample, expected time.Duration, begin reading.Instant, o *Options) {
	s.First, s.Began = x.At, min(begin, x.At)
	if begin == 0 {
		s.Began = x.At
	}
	if !s.HaveWall {
		s.WallFrom, s.HaveWall = x.At, true
	}
	s.Slack += o.ClockRound
	from := s.Began
	if s.HaveMeter {
		from = max(from, s.WallFrom) // what ran before a reading of the meter is in it
	}
	s.Before = o.unheard(x, x.At.Seconds(from), o.silence(expected))
}

// unheard bounds what may have burned in the span between the begin of the
// record and the first sample: no more than the counter reads, unless that
// span is too short to matter.
func (o *Options) unheard(x reading.Sample, span, silence float64) float64 {
	most := span
	if x.Carries(reading.Runtime) && span > silence {
		most = min(most, max(0, x.Runtime)+coarsest)
	}
	counted := x.Carries(reading.Runtime) && x.Runtime <= span
	if counted || span <= o.StartUnseen.Seconds() {
		return most
	}
	return 0
}

// HoursAt gives the hours run up to end. What came after the newest sample
// nobody saw: it counts in full in the upper bound. An end before the newest
// sample gives the hours at that sample.
func (s *State) HoursAt(end reading.Instant) Hours {
	t := s.total(max(end, s.Last))
	h := Hours{
		Hours: t.Est / 3600, Low: t.Low / 3600, High: t.High / 3600,
		Source: s.source(), Burns: int(s.Ends), Ignitions: int(s.Starts), Jump: s.Jumps > 0,
	}
	h.Run = h.Hours - s.Meter.Moved
	return h
}

func (s *State) source() string {
	switch s.Heard {
	case reading.Flame | reading.Runtime:
		return "both"
	case reading.Flame:
		return "flame"
	case reading.Runtime:
		return "counter"
	}
	return ""
}

// total adds what is closed, what is open and what nobody saw, s.
func (s *State) total(end reading.Instant) Span {
	if s.Heard == 0 {
		return s.Sum
	}
	t := s.Sum.add(s.open()).add(s.unseen(end)).add(s.Counter.unsure())
	slack := s.Slack + s.Counter.slack()
	most := s.WallSum + end.Seconds(s.WallFrom) + s.Before
	t.Low = min(max(t.Low-slack-s.purged(), s.Floor), most) // a counter that runs fast shows more than there was time for
	t.High = min(t.High+slack+s.Before, most)
	return t.above(s.Floor)
}

// unseen is the stretch from the newest word on the flame to end.
func (s *State) unseen(end reading.Instant) Span {
	from := max(s.Flame.At, s.Counter.At, s.First)
	if s.Heard == 0 {
		return Span{} // nothing is open yet
	}
	d := max(0, end.Seconds(from))
	t := Span{High: d}
	if s.Flame.Lit && end.Seconds(s.Flame.At) <= s.Regular {
		t.Est = d
	}
	return t
}

// Anchor takes a reading of the hour meter by a person, read at an instant and
// told at that or a later one; since is what burned from the reading to then.
// The hours go on from meterHours, which is in the frame of HoursAt (subtract
// the meter's reading when the node was fitted if that is added elsewhere). What
// the estimate was, and by how much it moved, stays in State.Meter.
func (s *State) Anchor(at, told reading.Instant, meterHours float64, since Span, o *Options) {
	now := max(told, s.Last)
	was := s.total(now)
	open := s.open().add(s.unseen(now))
	half := o.MeterReads * 1800 // s; a meter may round or cut off: from half below to a whole above
	read := meterHours*3600 + since.Est
	low, high := read-since.Est+since.Low-half, read-since.Est+since.High+2*half
	impossible := s.HaveWall && low > s.WallSum+now.Seconds(s.WallFrom)+s.Before
	s.Sum = Span{low - open.High, read - open.Est, high - open.Low}
	s.Slack, s.Before = o.ClockRound, 0
	s.Counter.forget(s.Ends)
	s.WallFrom, s.WallSum, s.HaveWall = now, high, true
	s.Floor = min(0, low)
	s.Meter.At, s.Meter.Read, s.Meter.Before = at, meterHours, was.Est/3600
	s.Meter.Step = (read - was.Est) / 3600
	s.Meter.Moved += s.Meter.Step
	s.Meter.Beyond = 0
	if impossible {
		s.Meter.Beyond = s.Meter.Step
	}
	s.HaveMeter = true
}

// Reframe says that the meter that was read counts from elsewhere: every hour
// told by it is more hours higher in the frame of HoursAt. What ran stays.
func (s *State) Reframe(more float64) {
	by := Span{more * 3600, more * 3600, more * 3600}
	s.Sum, s.WallSum, s.Floor = s.Sum.add(by), s.WallSum+by.High, min(0, s.Floor+by.Low)
	s.Meter.Read += more
	s.Meter.Before += more
	s.Meter.Moved += more
}

// Refit says that another counter is read from now on: another sensor unit
// was fitted. What was burned so far stands.
func (s *State) Refit() {
	s.Sum = s.Sum.add(s.open()).add(s.Counter.unsure())
	s.Slack += s.Counter.slack()
	s.Sum.Low -= s.purged()
	s.Counter = Counter{}
	s.Tally = Tally{To: s.Tally.To}
	s.Flame.HasRuntime = false
}

// Rewind begins a new record, which may lie before the old one: the clock that
// the instants are told by was set back. What was burned so far stands.
func (s *State) Rewind() {
	t := s.total(s.Last)
	*s = State{
		Sum: t, WallSum: t.High, Ends: s.Ends, Starts: s.Starts, Jumps: s.Jumps, Restarts: s.Restarts,
		Meter: s.Meter, HaveMeter: s.HaveMeter,
	}
}

// LastJump tells when the counter last jumped or contradicted the flame.
func (s *State) LastJump() (reading.Instant, bool) { return s.JumpAt, s.Jumps > 0 }

// Distrusted tells whether the counter stands still or runs against the flame,
// by its newest reading, and when that was taken.
func (s *State) Distrusted() (reading.Instant, bool) { return s.Counter.Newest, s.Counter.Distrust }

// RunsOn tells whether the counter has run on after the last stops, as one does
// that counts the fan.
func (s *State) RunsOn(o *Options) bool { return s.Counter.runsOn(o) }

// Current gives the burn in progress; its End is the newest sample.
func (s *State) Current() (Burn, bool) {
	if !s.Burning {
		return Burn{}, false
	}
	b := s.Burn
	b.End, b.EndLow, b.EndHigh = s.Last, s.Last, s.Last
	b.Seconds = b.End.Seconds(b.Start)
	return b, true
}

func (s *State) jump(at reading.Instant) {
	s.Jumps++
	s.JumpAt = at
}
