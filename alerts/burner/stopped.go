package burner

import (
	"math"

	"heaterd/ingest/reading"
)

// Sights are the burns that the flame showed since the counter was last believed.
type Sights struct {
	Burns uint32
	Fresh bool // the newest sample was the first of one
	Brief bool // one showed at a single sample: others fell between two
}

func (g *Sights) look(was, is bool) {
	g.Brief = g.Brief || g.Fresh && !is
	if g.Fresh = !was && is; g.Fresh {
		g.Burns++
	}
}

// stopped reports whether more burns showed than can have while a counter that
// works did not move. Samples show a burn with the chance of its length over the
// time between them, so that burns of less than a step together show seldom
// (Chernoff's bound on a Poisson count; from memory).
func (s *State) stopped(o *Options) bool {
	step, n := s.Counter.Quantum, float64(s.Tally.Sights.Burns)
	if step == 0 {
		step = coarsest
	}
	mean := (step + 2*o.ClockRound) * o.GapFactor / s.Regular
	return n > mean && n*math.Log(n/mean)-n+mean >= o.Unlikely
}

// since gives the most that can have burned up to t since the counter moved, where
// the flame alone tells and burns fell between two of its samples, s.
func (s *State) since(t reading.Instant) float64 {
	c := &s.Counter
	if !s.Tally.Sights.Brief || !c.Stood {
		return 0
	}
	return t.Seconds(max(c.Moved, s.First))
}
