package burner_test

import (
	"testing"

	"heaterd/ingest/reading"
)

// A unit that starts again from a value it had saved, in silences in which so much
// burned that nothing shows it: once it was seen to fall, before or after, the
// bounds allow for it. One that never fell is believed across every silence.
func TestACounterThatFallsBack(t *testing.T) {
	w := cycling(6_000, 3_000, 3*86_400)
	const hidden, lost = 120_000, 9_000 // s: when it falls unseen, and by how much
	for _, flame := range []bool{true, false} {
		for _, seen := range []float64{40_000, 200_000, 0} {
			u := &unit{every: 60, quantum: 1, start: 3_000_000, flame: flame, counter: true, gaps: [][2]float64{{hidden - 20_000, hidden + 40_000}}}
			s, _ := run(falling(u, w, map[float64]float64{hidden: lost, seen: 2_000}), u.expected())
			h, want := s.HoursAt(at(w.end)), w.burned(0, w.end)
			if h.Low*3600 > want || seen > 0 && h.High*3600 < want {
				t.Errorf("flame %v, seen to fall at %v s: %+v, burned %.3f h", flame, seen, h, want/3600)
			}
			whole, _ := run(u.samples(w), u.expected())
			if h := whole.HoursAt(at(w.end)); seen == 0 && (h.High-h.Low)*3600 > 200 {
				t.Errorf("flame %v, never fell: %+v", flame, h)
			}
		}
	}
}

// falling gives what arrives from a unit whose counter falls, by when and by how
// much, s; one at 0 does not.
func falling(u *unit, w *truth, falls map[float64]float64) []reading.Sample {
	return misread(u.samples(w), func(t, r float64) float64 {
		for at, by := range falls {
			if at > 0 && t >= at {
				r -= by
			}
		}
		return r
	})
}

// A fall by less than the time between two samples looks like a break that nobody
// saw: it counts as well, once the counter was seen to fall.
func TestAFallBetweenTwoSamples(t *testing.T) {
	w := cycling(6_000, 3_000, 3*86_400)
	u := &unit{every: 120, quantum: 1, start: 3_000_000, flame: true, counter: true}
	s, _ := run(falling(u, w, map[float64]float64{40_000: 2_000, 102_000: 90, 139_000: 100, 183_500: 110}), u.expected())
	if h, want := s.HoursAt(at(w.end)), w.burned(0, w.end); h.Low*3600 > want || h.High*3600 < want {
		t.Errorf("%+v, burned %.3f h", h, want/3600)
	}
}
