package burner_test

import (
	"math"
	"testing"

	"heaterd/ingest/reading"
)

// cycling is a heater that burns for so long, and rests for so long, s.
func cycling(on, off, end float64) *truth {
	w := &truth{end: end}
	for a := 1_000.0; a+on < end; a += on + off {
		w.lit = append(w.lit, [2]float64{a, a + on})
	}
	return w
}

func misread(xs []reading.Sample, by func(t, r float64) float64) []reading.Sample {
	for i := range xs {
		xs[i].Runtime = by(xs[i].At.Seconds(t0), xs[i].Runtime)
	}
	return xs
}

// A counter that runs on while the flame is out gains no more between two
// readings than a step, or than a burn nobody saw would explain. All of it
// together neither does.
func TestStepsAgainstTheFlameAddUp(t *testing.T) {
	w := cycling(5_000, 5_000, 86_400)
	for _, c := range [][2]float64{{10, 10}, {63, 60}, {30, 60}, {125, 10}, {300, 3600}} {
		u := &unit{every: c[0], start: 7_200, flame: true, counter: true}
		xs := misread(u.samples(w), func(s, r float64) float64 {
			r += min(max(0, s-46_500), 4_000)
			return math.Floor(r/c[1]) * c[1]
		})
		s, burns := run(xs, u.expected())
		h, want := s.HoursAt(at(w.end)), w.burned(0, w.end)/3600
		if h.Low > want || h.High < want || c[1] < 3600 && (!h.Jump || math.Abs(h.Hours-want) > 0.2) {
			t.Errorf("every %v s, steps of %v s: %+v, burned %.2f h", c[0], c[1], h, want)
		}
		if d := len(burns) - len(w.lit); d < 0 || d > 1 {
			t.Errorf("every %v s, steps of %v s: %d burns, want %d", c[0], c[1], len(burns), len(w.lit))
		}
	}
}

// One that runs slow misses in each interval what a short break would explain.
func TestASlowCounterIsNotBelieved(t *testing.T) {
	w := cycling(3_000, 2_000, 5*86_400)
	for _, rate := range []float64{0.1, 0.5, 5. / 6, 0.9} {
		u := &unit{every: 60, quantum: 1, flame: true, counter: true}
		s, burns := run(misread(u.samples(w), func(_, r float64) float64 { return math.Floor(r * rate) }), u.expected())
		h, want := s.HoursAt(at(w.end)), w.burned(0, w.end)/3600
		if !h.Jump || h.High < 0.995*want || math.Abs(h.Hours/want-1) > 0.02 {
			t.Errorf("rate %.2f: %+v, burned %.2f h", rate, h, want)
		}
		if d := len(burns) - len(w.lit); d < 0 || d > 80 {
			t.Errorf("rate %.2f: %d burns, want %d", rate, len(burns), len(w.lit))
		}
	}
}

// Short burns, and short breaks, of which some are seen are not held against a
// counter that tells the others.
func TestShortBurnsKeepTheCounterBelieved(t *testing.T) {
	for _, w := range []*truth{cycling(70, 210, 86_400), cycling(210, 70, 86_400)} {
		u := &unit{every: 100, quantum: 1, flame: true, counter: true}
		s, _ := run(u.samples(w), u.expected())
		h, want := s.HoursAt(at(w.end)), w.burned(0, w.end)/3600
		if h.Jump || h.High-h.Low > 0.1 || math.Abs(h.Hours-want) > 0.01 {
			t.Errorf("%+v, burned %.2f h", h, want)
		}
	}
}
