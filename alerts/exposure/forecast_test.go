package exposure

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// filling is the course of a space that a source fills towards end ppm.
func filling(end, perH float64) func(float64) float64 {
	return func(sec float64) float64 { return end * (1 - math.Exp(-perH*sec/3600)) }
}

func noisy(f func(float64) float64, sigma float64) func(float64) float64 {
	rng := rand.New(rand.NewPCG(8, 9))
	return func(sec float64) float64 { return math.Round(f(sec) + sigma*rng.NormFloat64()) }
}

func TestForecastOfASteadyLevel(t *testing.T) {
	l := Limits{CeilingPPM: 200, ShortTermPPM: 100, ShiftPPM: 20, DosePercent: 10}
	s := NewSensor(Heavy)
	feed(&s, 3600, 30, steady(40))
	f := s.Forecast(s.Last, l)
	if f.Ceiling.OK || f.ShortTerm.OK || f.Dose.OK {
		t.Errorf("a level of 40 ppm does not reach %+v", f)
	}
	if want := 180.0; !f.Shift.OK || math.Abs(f.Shift.Minutes-want) > 1.5 { // 4 h at 40 ppm are 20 ppm over 8 h
		t.Errorf("shift %+v, want %v min", f.Shift, want)
	}
	s = NewSensor(Heavy)
	feed(&s, 600, 30, steady(400))
	f = s.Forecast(s.Last, l)
	want := minutesTo(UptakeFor(Heavy), 400, 10) - 10
	if !f.Dose.OK || math.Abs(f.Dose.Minutes-want) > 1.5 {
		t.Errorf("dose %+v, want %v min", f.Dose, want)
	}
	if !f.Ceiling.OK || f.Ceiling.Minutes != 0 {
		t.Errorf("ceiling %+v, it is passed", f.Ceiling)
	}
	if f := new(Sensor).Forecast(epoch, l); f != (Forecast{}) {
		t.Errorf("an empty record: %+v", f)
	}
}

func TestForecastOfAFillingSpace(t *testing.T) {
	for _, step := range []float64{30, 120} {
		for _, perH := range []float64{1, 2, 3} {
			s := NewSensor(Heavy)
			course := filling(300, perH)
			feed(&s, 1800, step, noisy(course, 1))
			f := s.Forecast(s.Last, Limits{CeilingPPM: 200})
			want := 60/perH*math.Log(3) - 30
			if want <= 0 {
				if f.Ceiling.Minutes != 0 || !f.Ceiling.OK {
					t.Errorf("%v/h: %+v, it is passed", perH, f.Ceiling)
				}
				continue
			}
			if !f.Ceiling.OK || math.Abs(f.Ceiling.Minutes-want) > 0.4*want+2 {
				t.Errorf("%v/h every %v s: %+v, want %v min", perH, step, f.Ceiling, want)
			}
		}
	}
}

func TestRising(t *testing.T) {
	niosh := Limits{CeilingPPM: 200, ShiftPPM: 35}
	for _, c := range []struct {
		name   string
		limits Limits
		course func(float64) float64
		want   bool
	}{
		{"level", niosh, steady(150), false},
		{"noise", niosh, noisy(steady(195), 1), false},
		{"a slow climb far below", niosh, noisy(func(s float64) float64 { return s / 60 }, 1), false},
		{"a fast climb", niosh, noisy(func(s float64) float64 { return 6 * s / 60 }, 1), true},
		{"falling", niosh, noisy(func(s float64) float64 { return 190 - s/20 }, 1), false},
		{"the short-term figure stands in", Limits{ShortTermPPM: 100}, noisy(func(s float64) float64 { return 3 * s / 60 }, 1), true},
		{"no ceiling: 200 ppm stands in", Limits{ShiftPPM: 50}, noisy(func(s float64) float64 { return 6 * s / 60 }, 1), true},
		{"one spike", niosh, func(s float64) float64 {
			if s == 1200 {
				return 150
			}
			return 10
		}, false},
	} {
		for _, step := range []float64{30, 120} {
			s := NewSensor(Heavy)
			raised := false
			for x := 0.0; x <= 1500; x += step {
				s.Apply(epoch.AddSeconds(x), c.course(x), time.Duration(step)*time.Second)
				if _, ok := s.Rising(c.limits, 15); ok {
					raised = true
				}
			}
			if raised != c.want {
				t.Errorf("%s, every %v s: %v", c.name, step, raised)
			}
		}
	}
}

func TestRisingComesBeforeTheCeiling(t *testing.T) {
	for _, perH := range []float64{0.5, 1, 2, 4} {
		for _, step := range []float64{30, 120} {
			s := NewSensor(Heavy)
			course := noisy(filling(300, perH), 1)
			warned := math.Inf(1)
			for x := 0.0; ; x += step {
				ppm := course(x)
				s.Apply(epoch.AddSeconds(x), ppm, time.Duration(step)*time.Second)
				if _, ok := s.Rising(Limits{CeilingPPM: 200}, 0); ok {
					warned = min(warned, x)
				}
				if ppm >= 200 {
					lead := (x - warned) / 60
					t.Logf("%v/h every %v s: %.1f min before the ceiling", perH, step, lead)
					if lead < 7 {
						t.Errorf("%v/h every %v s: %v min ahead", perH, step, lead)
					}
					break
				}
			}
		}
	}
}

// CO that rises, and then stands, is told of as no higher than it was read.
func TestARiseIsNoHigherThanWasRead(t *testing.T) {
	s := NewSensor(Heavy)
	for x := 0.0; x <= 3600; x += 30 {
		s.Apply(epoch.AddSeconds(x), min(x, 1000), 30*time.Second)
		if r, _ := s.Rising(Limits{CeilingPPM: 200}, 0); r.PPM > 1000 {
			t.Fatalf("%.0f ppm after %v s", r.PPM, x)
		}
	}
}

// Air that begins to fill after an hour of little CO: from when a rise is first
// told, the time to the ceiling is never promised twice as long as it is, nor the
// level far below what was read.
func TestTheTimeToTheCeilingIsNotPromisedLong(t *testing.T) {
	for _, end := range []float64{300, 600, 1500} {
		for _, perH := range []float64{0.5, 1, 2, 4} {
			for _, step := range []float64{10, 30, 60} {
				s := NewSensor(Heavy)
				fill := filling(end-3, perH)
				course := noisy(func(sec float64) float64 { return 3 + fill(max(sec-3600, 0)) }, 0.5)
				reached := 3600 - 3600/perH*math.Log(1-197/(end-3))
				for x := 0.0; x < reached; x += step {
					ppm := course(x)
					s.Apply(epoch.AddSeconds(x), ppm, time.Duration(step)*time.Second)
					r, ok := s.Rising(Limits{CeilingPPM: 200}, 0)
					if ok && r.PPM < 0.85*ppm {
						t.Errorf("to %v ppm, %v/h, every %v s: %.0f ppm told, %v read", end, perH, step, r.PPM, ppm)
					}
					if left := (reached - x) / 60; ok && r.Minutes > 2*left+2 {
						t.Errorf("to %v ppm, %v/h, every %v s: %.1f min promised of %.1f", end, perH, step, r.Minutes, left)
					}
				}
			}
		}
	}
}

// A poor sensor at a level near the limit, for two days.
func TestRisingIsNotNoise(t *testing.T) {
	for _, step := range []float64{30, 120} {
		s := NewSensor(Heavy)
		course := noisy(steady(193), 4)
		wrong := 0
		for x := 0.0; x < 48*3600; x += step {
			s.Apply(epoch.AddSeconds(x), course(x), time.Duration(step)*time.Second)
			if _, ok := s.Rising(Limits{CeilingPPM: 200}, 0); ok {
				wrong++
			}
		}
		if share := float64(wrong) * step / (48 * 3600); share > 0.001 {
			t.Errorf("every %v s: rising %.2f %% of the time", step, 100*share)
		}
	}
}
