package burner

// Span is an amount of burner time: the estimate and what it lies between, s.
type Span struct{ Low, Est, High float64 }

func exactly(s float64) Span { return Span{s, s, s} }

func (a Span) add(b Span) Span { return Span{a.Low + b.Low, a.Est + b.Est, a.High + b.High} }

func (a Span) sub(b Span) Span { return Span{a.Low - b.Low, a.Est - b.Est, a.High - b.High} }

// join spans both, with the estimate of a.
func (a Span) join(b Span) Span {
	return Span{min(a.Low, b.Low), a.Est, max(a.High, b.High)}
}

// ordered keeps the estimate between the bounds and nothing below zero.
func (a Span) ordered() Span { return a.above(0) }

// above keeps the estimate between the bounds and nothing below a floor.
func (a Span) above(floor float64) Span {
	a.Low = max(floor, a.Low)
	a.High = max(a.Low, a.High)
	a.Est = min(max(a.Est, a.Low), a.High)
	return a
}
