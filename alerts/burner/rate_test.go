package burner_test

import (
	"math"
	"testing"

	"heaterd/alerts/burner"
)

// A counter that runs fast gains more than the time that passes while the flame
// burns: what it told beyond that is in neither the estimate nor the lower bound,
// and not in what it tells of a silence or of a burn that nobody saw whole either.
func TestAFastCounterIsFound(t *testing.T) {
	for _, rate := range []float64{1.004, 1.02, 1.05, 1.1} {
		for _, every := range []float64{30, 60, 300} {
			w := cycling(3_000, 2_000, 10*86_400)
			u := &unit{every: every, quantum: 1, flame: true, counter: true, gaps: [][2]float64{{400_000, 440_000}}}
			s, burns := run(misread(u.samples(w), func(_, r float64) float64 { return math.Floor(r * rate) }), u.expected())
			h, want := s.HoursAt(at(w.end)), w.burned(0, w.end)/3600
			if h.Low > want || h.High < want || math.Abs(h.Hours/want-1) > 0.006 || h.High-h.Low > 3*(rate-1)*want+2 {
				t.Errorf("rate %.3f, every %v s: %+v, burned %.2f h", rate, every, h, want)
			}
			if told := rate > 1.01; h.Jump != told || len(burns) > len(w.lit)+10 {
				t.Errorf("rate %.3f, every %v s: told %v, %d burns of %d", rate, every, h.Jump, len(burns), len(w.lit))
			}
		}
	}
}

// Rounding, coarse steps and readings that come late look like no rate.
func TestRoundingIsNoRate(t *testing.T) {
	w := cycling(700, 400, 10*86_400)
	for _, q := range []float64{0, 1, 60, 360, 3600} {
		u := &unit{every: 60, quantum: q, start: 777_600, flame: true, counter: true}
		xs := u.samples(w)
		for i := range xs {
			xs[i].At = xs[i].At.AddSeconds(float64(i * 7 % 5))
		}
		var s burner.State
		o := burner.DefaultOptions()
		for _, x := range xs {
			s.Apply(x, u.expected(), t0, &o)
		}
		if h := s.HoursAt(at(w.end)); h.Jump || (h.High-h.Low)*3600 > 3*q+400 {
			t.Errorf("steps of %v s: %+v", q, h)
		}
	}
}
