package burner

import (
	"time"

	"heaterd/ingest/reading"
)

// Flame is the newest word on whether the heater is lit, and what the counter
// read with it.
type Flame struct {
	At         reading.Instant
	Runtime    float64 // s
	Known      bool
	Lit        bool
	HasRuntime bool
	Late       float32 // s from At until it came
}

// Tally is what the flame tells about the stretch since the counter was last
// believed.
type Tally struct {
	Span
	To        reading.Instant // covered so far
	Intervals uint32
	Sights    Sights
	Gap       bool // at least one interval was too long to see through
}

// tellFlame adds the interval that ends with this sample to the tally.
func (s *State) tellFlame(t reading.Instant, lit bool, expected time.Duration, o *Options) {
	s.Tally.Sights.look(s.Flame.Lit, lit)
	if s.Flame.Known {
		s.Tally.extend(s.between(t, lit, expected, o), t)
		return
	}
	d := t.Seconds(max(s.First, s.Tally.To))
	s.Tally.extend(Span{High: d}, t)
	s.Tally.Gap = s.Tally.Gap || d > s.Regular
}

// between gives what burned from the end of the tally to a flame sample: all
// or nothing where the flame is the same at both ends of a regular interval,
// about half of it where it changed. Across a gap anything may have happened.
func (s *State) between(t reading.Instant, lit bool, expected time.Duration, o *Options) Span {
	d := t.Seconds(max(s.Flame.At, s.Tally.To))
	whole := t.Seconds(s.Flame.At)
	both, any := s.Flame.Lit && lit, s.Flame.Lit || lit
	gap := whole > s.Regular
	s.Tally.Gap = s.Tally.Gap || gap
	switch {
	case gap && both && whole <= o.silence(expected):
		return Span{Est: d, High: d}
	case any && (gap || !both):
		return Span{Est: d / 2, High: d}
	case gap:
		return Span{High: d}
	case both:
		return Span{Low: d * (1 - o.Drift), Est: d, High: d * (1 + o.Drift)}
	}
	return Span{}
}

func (a *Tally) extend(b Span, to reading.Instant) {
	a.Span = a.Span.add(b)
	a.To = to
	a.Intervals++
}

// extendBlind covers up to a counter reading that came without a flame.
func (s *State) extendBlind(t reading.Instant) {
	from := max(s.Tally.To, s.Flame.At, s.First)
	if t <= from {
		return
	}
	d := t.Seconds(from)
	b := Span{High: d}
	if s.Flame.Lit && t.Seconds(s.Flame.At) <= s.Regular {
		b.Est = d
	}
	s.Tally.extend(b, t)
	s.Tally.Gap = s.Tally.Gap || d > s.Regular
}
