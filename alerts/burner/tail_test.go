package burner_test

import (
	"fmt"
	"math"
	"testing"
)

// fanned is what a counter in steps of so many seconds tells that counts the fan:
// purge seconds more for each burn that ended, up to until.
func (w *truth) fanned(purge, step, until float64) func(t, r float64) float64 {
	return func(t, r float64) float64 {
		for _, b := range w.lit {
			if b[1] < until {
				r += min(purge, max(0, t-b[1]))
			}
		}
		return math.Floor(r/step) * step
	}
}

// A counter that counts the fan runs on through each purge. The hours are those
// of the flame then, within bounds that hold, and the purges are no burns.
func TestACounterThatCountsTheFan(t *testing.T) {
	w := cycling(1_200, 1_500, 86_400)
	for _, c := range [][2]float64{{60, 1}, {120, 1}, {180, 1}, {120, 10}, {180, 30}} {
		purge, step := c[0], c[1]
		t.Run(fmt.Sprint(purge, " s, steps of ", step), func(t *testing.T) {
			u := &unit{every: 30, flame: true, counter: true}
			s, burns := run(misread(u.samples(w), w.fanned(purge, step, w.end)), u.expected())
			h, want := s.HoursAt(at(w.end)), w.burned(0, w.end)/3600
			if !h.Jump || h.Low > want || h.High < want || math.Abs(h.Hours-want) > 0.15 {
				t.Errorf("%+v, burned %.2f h", h, want)
			}
			if d := len(burns) - len(w.lit); d < 0 || d > 3 {
				t.Errorf("%d burns, want %d", len(burns), len(w.lit))
			}
		})
	}
}

// Once it stops with the flame again, another unit's perhaps, it is believed.
func TestACounterThatCountsTheFanNoMoreIsBelieved(t *testing.T) {
	w := cycling(1_200, 1_500, 2*86_400)
	u := &unit{every: 30, flame: true, counter: true}
	s, _ := run(misread(u.samples(w), w.fanned(120, 1, 20_000)), u.expected())
	if _, distrusted := s.Distrusted(); distrusted {
		t.Error("it is not believed though it ran with the flame for a day")
	}
}
