package burner_test

import (
	"math"
	"testing"

	"heaterd/alerts/burner"
)

// A single wild value that the time since the reading before allows, or nearly, is
// known for one by the next reading, which follows the one before it.
func TestASingleWildValueLeavesNothing(t *testing.T) {
	w := cycling(3_000, 2_000, 2*86_400)
	for _, flame := range []bool{true, false} {
		for _, every := range []float64{30, 60, 300} {
			u := &unit{every: every, quantum: 1, start: 777_777, flame: flame, counter: true}
			xs, n := u.samples(w), 0.0
			for i := 37; i < len(xs); i += 97 {
				xs[i].Runtime = xs[i-1].Runtime + math.Floor(every*float64(i%10)/8)
				n++
			}
			var s burner.State
			o := burner.DefaultOptions()
			for _, x := range xs {
				s.Apply(x, u.expected(), t0, &o)
				if h, now := s.HoursAt(x.At), x.At.Seconds(t0); h.Low*3600 > w.burned(0, now)+1e-6 || h.High*3600 < w.burned(0, now)-1e-6 {
					t.Fatalf("every %v s, flame %v, at %.0f s: %+v, burned %.0f s", every, flame, now, h, w.burned(0, now))
				}
			}
			h, want := s.HoursAt(at(w.end)), w.burned(0, w.end)
			if h.Jump || s.Restarts > 0 || math.Abs(h.Hours*3600-want) > 0.1*every*n/3 || h.High*3600 < want || (h.High-h.Low)*3600 > 1.5*every*n+60 {
				t.Errorf("every %v s, flame %v: %+v, %d restarts, burned %.3f h, %.0f wild", every, flame, h, s.Restarts, want/3600, n)
			}
		}
	}
}
