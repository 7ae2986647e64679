package burner_test

import (
	"testing"

	"heaterd/alerts/burner"
)

// A counter that stops where reports are far apart and burns short is told by the
// burns that still show: too many for one that works and does not move. What fell
// between the reports since then is within the bounds.
func TestAStoppedCounterBesideShortBurns(t *testing.T) {
	const stops = 43_200
	for on := 30.0; on <= 110; on += 20 {
		w := &truth{end: 2 * 86_400}
		for i, a := 0, 1_000.0; a+on < w.end; i++ {
			w.lit = append(w.lit, [2]float64{a, a + on})
			a += 6*on + float64(i*61%197)
		}
		u := &unit{every: 300, quantum: 1, start: 777_777, flame: true, counter: true, stuck: [2]float64{stops, 3 * 86_400}}
		var s burner.State
		o := burner.DefaultOptions()
		for _, x := range u.samples(w) {
			s.Apply(x, u.expected(), t0, &o)
			h, now := s.HoursAt(x.At), x.At.Seconds(t0)
			_, told := s.LastJump()
			if told && now < stops || !told && now > stops+6*3600 {
				t.Fatalf("burns of %v s: told %v at %.0f s", on, told, now)
			}
			if really := w.burned(0, now); h.Low*3600 > really || told && h.High*3600 < really {
				t.Fatalf("burns of %v s, at %.0f s: %+v, burned %.0f s", on, now, h, really)
			}
		}
	}
}
