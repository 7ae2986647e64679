package burner_test

import (
	"math"
	"testing"

	"heaterd/alerts/burner"
)

// A counter alone that counts in sixths of an hour tells each burn once, not
// one with every step.
func TestACoarseCounterTellsABurnOnce(t *testing.T) {
	w := &truth{end: 86_400}
	for a := 1_000.0; a < 80_000; a += 10_000 {
		w.lit = append(w.lit, [2]float64{a, a + 5_000})
	}
	for _, q := range []float64{360, 600, 900} {
		u := &unit{every: 30, quantum: q, start: 777_777, counter: true}
		s, burns := run(u.samples(w), u.expected())
		if n := len(burns); n != len(w.lit) {
			t.Errorf("steps of %v s: %d burns, want %d", q, n, len(w.lit))
		}
		if h := s.HoursAt(at(w.end)); h.Low*3600 > w.burned(0, w.end) || h.High*3600 < w.burned(0, w.end) || h.Jump {
			t.Errorf("steps of %v s: %+v, truth %.0f s", q, h, w.burned(0, w.end))
		}
	}
}

// A unit that looks at the flame every so many seconds counts in steps of so many:
// beside the flame, told more often than that, they are neither stops nor jumps.
func TestACounterInStepsOfASlowLook(t *testing.T) {
	w := cycling(1_900, 2_800, 3*86_400)
	for _, q := range []float64{9, 12, 15, 18, 20, 24, 25, 36, 40, 45} {
		u := &unit{every: 31, quantum: q, start: 777_600, flame: true, counter: true}
		s, burns := run(u.samples(w), u.expected())
		h, really := s.HoursAt(at(w.end)), w.burned(0, w.end)
		if len(burns) != len(w.lit) || h.Jump || h.Low*3600 > really || h.High*3600 < really {
			t.Errorf("steps of %v s: %d burns of %d, %+v, burned %.0f s", q, len(burns), len(w.lit), h, really)
		}
	}
}

// A counter of steps between a minute and a tenth of an hour, 0.02 h or minutes
// among them, makes neither stops nor jumps of them.
func TestACounterInStepsOfMinutes(t *testing.T) {
	w := cycling(1_900, 2_800, 3*86_400)
	for _, q := range []float64{72, 90, 120, 180, 240, 300} {
		for _, every := range []float64{31, 120, 600} {
			u := &unit{every: every, quantum: q, start: 2_160_000, flame: true, counter: true}
			s, burns := run(u.samples(w), u.expected())
			h, really := s.HoursAt(at(w.end)), w.burned(0, w.end)
			if len(burns) != len(w.lit) || h.Jump || h.Low*3600 > really || h.High*3600 < really {
				t.Errorf("steps of %v s, each %v s: %d burns of %d, %+v, burned %.0f s", q, every, len(burns), len(w.lit), h, really)
			}
		}
	}
}

// A counter of coarse steps that stops is told once a step is overdue.
func TestACoarseCounterThatStops(t *testing.T) {
	w := &truth{lit: [][2]float64{{100, 20_000}}, end: 20_000}
	u := &unit{every: 30, quantum: 600, start: 777_777, flame: true, counter: true, stuck: [2]float64{10_000, 20_000}}
	var s burner.State
	o := burner.DefaultOptions()
	for _, x := range u.samples(w) {
		s.Apply(x, u.expected(), t0, &o)
		if told, _ := s.LastJump(); told != 0 {
			if late := told.Seconds(at(10_000)); late < 0 || late > 700 {
				t.Errorf("told %.0f s after it stopped", late)
			}
			return
		}
	}
	t.Error("never told")
}

// The first step of a coarse counter holds what ran before anybody looked: the
// flame, which saw all of it, has the better word.
func TestAFirstStepIsNotAllOfNow(t *testing.T) {
	w := &truth{lit: [][2]float64{{600, 7_800}, {10_000, 20_000}}, end: 24_000}
	u := &unit{every: 30, quantum: 3600, start: 412*3600 + 3_000, flame: true, counter: true}
	s, _ := run(u.samples(w), u.expected())
	if h := s.HoursAt(at(w.end)); math.Abs(h.Hours*3600-w.burned(0, w.end)) > 120 {
		t.Errorf("%.0f s, burned %.0f", h.Hours*3600, w.burned(0, w.end))
	}
}

// While a coarse counter alone waits for its next step no more can have burned
// than that step, and what passed at one step is not counted anew at the next.
func TestACoarseCounterAloneIsAsExactAsItsSteps(t *testing.T) {
	w := cycling(3_000, 4_000, 4*86_400)
	for _, q := range []float64{60, 360, 600, 900, 1800, 3600} {
		for _, swap := range [][]reset{nil, {{2 * 86_400, 0}}} {
			u := &unit{every: 60, quantum: q, start: 500 * 3600, resets: swap, counter: true}
			var s burner.State
			o := burner.DefaultOptions()
			for _, x := range u.samples(w) {
				if len(swap) > 0 && x.At == at(swap[0].t) {
					s.Refit()
				}
				s.Apply(x, u.expected(), t0, &o)
				h, now := s.HoursAt(x.At), x.At.Seconds(t0)
				if really := w.burned(0, now); h.Low*3600 > really || h.High*3600 < really {
					t.Fatalf("steps of %v s, at %.0f s: %+v, truth %.0f s", q, now, h, really)
				}
			}
			h, most := s.HoursAt(at(w.end)), float64(2+2*len(swap))*q+300
			if wide := (h.High - h.Low) * 3600; wide > most || h.Burns < len(w.lit)-1 && q < 3600 {
				t.Errorf("steps of %v s, %d swaps: %.0f s wide, %d burns of %d", q, len(swap), wide, h.Burns, len(w.lit))
			}
		}
	}
}

// A counter of coarse steps that begins at 0 has told nothing of its step yet
// when the first one is due: it is not stuck.
func TestACoarseCounterThatBeginsAtZeroIsNotStuck(t *testing.T) {
	w := cycling(3_000, 4_000, 2*86_400)
	for _, q := range []float64{60, 360, 600, 1800, 3600} {
		for _, long := range []*truth{w, {lit: [][2]float64{{100, 20_000}}, end: 24_000}} {
			u := &unit{every: 30, quantum: q, flame: true, counter: true}
			s, _ := run(u.samples(long), u.expected())
			h, really := s.HoursAt(at(long.end)), long.burned(0, long.end)
			if h.Jump || h.Low*3600 > really || h.High*3600 < really {
				t.Errorf("steps of %v s: %+v, burned %.0f s", q, h, really)
			}
		}
	}
}

// One that never leaves 0 is told once the coarsest step is overdue.
func TestACounterThatStaysAtZeroIsTold(t *testing.T) {
	w := &truth{lit: [][2]float64{{100, 20_000}}, end: 20_000}
	u := &unit{every: 30, flame: true, counter: true, stuck: [2]float64{0, 20_000}}
	s, _ := run(u.samples(w), u.expected())
	told, jumped := s.LastJump()
	if late := told.Seconds(at(100)); !jumped || late < 3600 || late > 3720 {
		t.Errorf("told %v, %.0f s after it lit", jumped, late)
	}
	if h := s.HoursAt(at(w.end)); h.High*3600 < w.burned(0, w.end) {
		t.Errorf("%+v, burned %.0f s", h, w.burned(0, w.end))
	}
}
