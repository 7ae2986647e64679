package burner_test

import (
	"fmt"
	"testing"

	"heaterd/alerts/burner"
)

// uneven is burns and breaks of about on and off seconds that keep step with no
// sample.
func uneven(on, off, end float64) *truth {
	w := &truth{end: end}
	for t, i := 100.0, 0; t+on+off < end; i++ {
		burns := on + float64(i*i*37%301) - 150
		w.lit = append(w.lit, [2]float64{t, t + burns})
		t += burns + off + float64(i*i*53%201) - 100
	}
	return w
}

// A counter that counts the fan is found by its purges too where those are shorter
// than the time between samples, or than its steps: the bounds hold.
func TestAPurgeBetweenTwoSamples(t *testing.T) {
	w := uneven(1_500, 1_800, 3*86_400)
	want := w.burned(0, w.end) / 3600
	for _, c := range [][3]float64{{120, 40, 1}, {120, 75, 1}, {120, 110, 1}, {30, 40, 60}, {30, 90, 360}, {60, 20, 1}, {600, 120, 1}} {
		every, purge, step := c[0], c[1], c[2]
		t.Run(fmt.Sprint(purge, " s between samples ", every, " s apart, steps of ", step), func(t *testing.T) {
			u := &unit{every: every, flame: true, counter: true}
			s, burns := run(misread(u.samples(w), w.fanned(purge, step, w.end)), u.expected())
			if h := s.HoursAt(at(w.end)); !h.Jump || h.Low > want || h.High < want {
				t.Errorf("%+v, burned %.3f h", h, want)
			}
			if d := len(burns) - len(w.lit); d > len(w.lit)/5 {
				t.Errorf("%d burns, want %d", len(burns), len(w.lit))
			}
		})
	}
}

// One that stops with the flame is believed, whatever falls between two samples.
func TestAStopBetweenTwoSamplesIsNoPurge(t *testing.T) {
	o := burner.DefaultOptions()
	for _, every := range []float64{30, 120, 600, 900} {
		for _, w := range []*truth{uneven(1_500, 1_800, 3*86_400), uneven(400, 700, 3*86_400), cycling(780, 660, 3*86_400), cycling(200, 500, 3*86_400)} {
			for _, step := range []float64{1, 60, 360} {
				u := &unit{every: every, flame: true, counter: true, quantum: step}
				s, _ := run(u.samples(w), u.expected())
				if h := s.HoursAt(at(w.end)); s.RunsOn(&o) {
					t.Errorf("%d burns, every %v s, steps of %v s: %+v", len(w.lit), every, step, h)
				}
			}
		}
	}
}
