package burner

import "heaterd/ingest/reading"

// Prior is the reading before the anchor and what was believed then, until
// another one follows the anchor: a single wild value that the time allowed for
// looks like any other until the next one does not fit it.
type Prior struct {
	At      reading.Instant
	Value   float64 // s
	Gained  Span    // s that the anchor added
	Least   float64 // s that the flame tells of it at least …
	Most    float64 // … and at most
	Quantum float32 // s
	Odd     float32 // s
	Moved   reading.Instant
	Strife  Strife
	Has     bool
	Gap     bool // the flame does not tell of all of it
}

// remember keeps what stands before the anchor is moved, but for what that adds.
func (c *Counter) remember(w *Tally) Prior {
	return Prior{
		At: c.At, Value: c.Value, Least: w.Low, Most: w.High, Gap: w.Gap,
		Quantum: float32(c.Quantum), Odd: float32(c.Odd), Moved: c.Moved, Strife: c.Strife, Has: !c.Distrust,
	}
}

// unconfirmed reports whether nothing followed the anchor yet.
func (c *Counter) unconfirmed() bool {
	return c.Prior.Has && (c.Newest == c.At || c.Trial.Has && c.Trial.Next)
}

// unsure gives by how much the anchor may be off while nothing followed it.
func (c *Counter) unsure() Span {
	p := &c.Prior
	if !c.unconfirmed() || p.Gap {
		return Span{}
	}
	return Span{Low: min(0, p.Least-p.Gained.Low), High: max(0, p.Most-p.Gained.High)}
}

// wild reports whether the reading on trial follows the one before the anchor:
// then the anchor was a single wild value.
func (c *Counter) wild(o *Options) bool {
	p, x := &c.Prior, &c.Trial
	return p.Has && x.Next && c.plausible(x.Value-p.Value, x.At.Seconds(p.At), o)
}

// skip goes on from the reading before the anchor to the one on trial. The bounds
// span both: that the anchor was wild, and that the counter fell to what it had saved.
func (s *State) skip(o *Options) {
	c := &s.Counter
	p, trial, rest, to := c.Prior, c.Trial, s.Tally.sub(c.Trial.Tally), s.Tally.To
	dr := max(0, trial.Value-p.Value)
	burned := Span{dr * (1 - o.Drift), dr, dr * (1 + o.Drift)}.join(p.Gained.add(s.broken(o)))
	s.Sum = s.Sum.sub(p.Gained).add(burned)
	c.Quantum, c.Odd, c.Moved, c.Strife = float64(p.Quantum), float64(p.Odd), p.Moved, p.Strife
	if dr > 0 {
		c.Moved = trial.At
	}
	s.adopt(trial.At, trial.Value)
	s.Tally = Tally{Span: rest, To: to, Intervals: 1, Gap: to.Seconds(trial.At) > s.Regular}
}
