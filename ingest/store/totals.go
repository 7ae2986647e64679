package store

import "heaterd/ingest/reading"

// totals are the figures of some samples that can be added up.
type totals struct {
	samples   int
	seen, lit float64 // s
	co, temp  sum
}

type sum struct {
	n             int
	min, sum, max float64
}

func (s *sum) add(v float64) { *s = s.plus(sum{1, v, v, v}) }

func (s sum) plus(o sum) sum {
	switch {
	case s.n == 0:
		return o
	case o.n == 0:
		return s
	}
	return sum{s.n + o.n, min(s.min, o.min), s.sum + o.sum, max(s.max, o.max)}
}

func (s sum) span() Span {
	if s.n == 0 {
		return Span{}
	}
	return Span{N: s.n, Min: s.min, Mean: s.sum / float64(s.n), Max: s.max}
}

func (t totals) plus(o totals) totals {
	return totals{t.samples + o.samples, t.seen + o.seen, t.lit + o.lit, t.co.plus(o.co), t.temp.plus(o.temp)}
}

func (t totals) step(at reading.Instant) Step {
	return Step{At: at, Samples: t.samples, CO: t.co.span(), Temp: t.temp.span(), Lit: t.lit, Seen: t.seen}
}

// totalOf sums samples in order of time. Each speaks for the flame until the
// next, the last one for as long as the one before it.
func totalOf(samples []reading.Sample) totals {
	t := totals{samples: len(samples)}
	hold := 0.0
	for i, s := range samples {
		if i+1 < len(samples) {
			hold = min(samples[i+1].At.Seconds(s.At), holdLimit.Seconds())
		}
		if s.Carries(reading.Flame) {
			t.seen += hold
		}
		if s.Lit() {
			t.lit += hold
		}
		if s.Carries(reading.CO) {
			t.co.add(float64(s.CO))
		}
		if s.Carries(reading.Temp) {
			t.temp.add(float64(s.Temp))
		}
	}
	return t
}
