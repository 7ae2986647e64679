package burner

import "time"

// Options are the thresholds of the package. None has a published source; a
// comment gives the derivation or says that it is common practice.
type Options struct {
	Expected    time.Duration // interval assumed until one is known; common practice
	GapFactor   float64       // a flame interval longer than this many expected ones is a gap; common practice
	Silence     float64       // a gap longer than this many expected intervals is a silence (a few lost samples are not) …
	SilenceMin  time.Duration // … and longer than this; common practice
	CounterSlop float64       // s a counter may gain beyond the time passed: two clocks rounded to whole seconds, sent late
	CounterBack float64       // s a counter may fall without having restarted: rounding
	Drift       float64       // ratio a node's clock or counter may be off: 100 ppm, a common crystal over temperature
	CounterRate float64       // ratio by which the counter may outrun the clock before it is a jump: 0.5 %, wide of any crystal
	RateSure    float64       // times its rounding by which a counter must have outrun the flame to be fast; common practice
	RateMost    float64       // ratio by which a counter may be faster than the time while the flame burns, before it is another one; common practice
	ClockRound  float64       // s by which whole-second times blur a span
	Disagree    float64       // s by which flame and counter may differ before it is called a jump; above every quantum up to 60 s and a lost sample
	Relent      float64       // ratio of the time they agree again that is taken off by how much they differed; common practice
	Unlikely    float64       // natural logarithm of the odds against a counter from which on it is not believed that all burns and breaks it tells fell between samples: 1 in 10,000; common practice
	Forgiven    float64       // s of agreement after which such odds are forgotten; common practice
	RunsOn      int8          // stops in a row after which a counter ran on through a whole interval, from which it is taken to count the fan; common practice
	Prompt      uint8         // stops at which a counter stood still at once, from which it is taken to count the flame; common practice, no source
	RelitLeast  float64       // s that a flame which failed is out at least before it lights again: its chamber is purged first; common practice, no source
	StuckAfter  float64       // s the flame may be lit at least without a counter moving; most move every 0.1 h = 360 s
	StuckSlop   float64       // s beyond its step that the flame may be lit without a counter moving; common practice
	SavedWithin float64       // s that a counter loses at most that goes on from a value it had saved; common practice: a day's
	ClockStep   float64       // s: a jump beyond the time passed by no more may be a clock set back: an hour of summer time, and as much again; common practice
	Beats       uint8         // intervals in a row of one length by which a unit is known to keep time; common practice
	ClockPut    float64       // s by which a unit's clock is put forward at most where it is put right: above that it breaks off a burn; a drift of 100 ppm makes as much in two days
	LagSlop     float64       // s by which two messages in a row may differ in how long they took; common practice
	Hidden      float64       // s that must be burned, or missing, inside one interval to be a burn or a break of its own: above the rounding of both clocks
	StartUnseen time.Duration // a heater first heard within this of the record's begin may have burned unheard until then; common practice
	TempFresh   time.Duration // how old a temperature may be to tell of the end of a burn; common practice
	SlopeOver   time.Duration // shortest stretch over which the slope of the temperature is taken; common practice
	MeterReads  float64       // h, resolution of an hour meter read by a person; 0.1 h is usual
}

// DefaultOptions are the figures of a fresh installation.
func DefaultOptions() Options {
	return Options{
		Expected:    time.Minute,
		GapFactor:   1.5,
		Silence:     4.5,
		SilenceMin:  5 * time.Minute,
		CounterSlop: 5,
		CounterBack: 2,
		Drift:       100e-6,
		CounterRate: 0.005,
		RateSure:    3,
		RateMost:    0.25,
		ClockRound:  1,
		Disagree:    120,
		Relent:      0.04,
		Unlikely:    9.21,
		Forgiven:    6 * 3600,
		RunsOn:      3,
		Prompt:      3,
		RelitLeast:  15,
		StuckAfter:  400,
		StuckSlop:   40,
		SavedWithin: 24 * 3600,
		ClockStep:   7200,
		Beats:       8,
		ClockPut:    16,
		LagSlop:     3,
		Hidden:      6,
		StartUnseen: 24 * time.Hour,
		TempFresh:   10 * time.Minute,
		SlopeOver:   5 * time.Minute,
		MeterReads:  0.1,
	}
}

func (o *Options) expected(e time.Duration) time.Duration {
	if e <= 0 {
		return o.Expected
	}
	return e
}

// silence gives the gap after which a change was not seen, in seconds.
func (o *Options) silence(expected time.Duration) float64 {
	return max(o.Silence*o.expected(expected).Seconds(), o.SilenceMin.Seconds())
}

// regular gives the longest interval through which a flame is believed, in
// seconds.
func (o *Options) regular(expected time.Duration) float64 {
	return o.GapFactor * o.expected(expected).Seconds()
}
