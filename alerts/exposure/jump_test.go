package exposure

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// Air that fills within minutes is told of before the line through the quiet
// minutes before can tell; what is soon over, or too little, is not.
func TestAJumpIsTold(t *testing.T) {
	for _, c := range []struct {
		name    string
		minutes float64 // between readings
		ppm     []float64
		minutesTo,
		by float64 // until the ceiling, as told; 0: it is not told
	}{
		{"every 2 min, two readings up", 2, []float64{50, 100}, 4.8, 0.5},
		{"every 2 min, one reading up", 2, []float64{100}, 0, 0},
		{"every 2 min, one reading up, then as it was", 2, []float64{100, 2}, 0, 0},
		{"every 2 min, up, and no further", 2, []float64{100, 100}, 0, 0},
		{"every 5 min, one reading up", 5, []float64{100}, 6.3, 0.5},
		{"every 5 min, a puff of exhaust", 5, []float64{40}, 0, 0},
		{"every 10 min, one reading up", 10, []float64{110}, 12.5, 1.5},
		{"every 10 min, slowly", 10, []float64{40, 80}, 0, 0},
		{"half a minute, two readings up", 0.5, []float64{45, 90}, 1.6, 0.5},
		{"half a minute, one reading up", 0.5, []float64{90}, 0, 0},
	} {
		s, at := NewSensor(Heavy), epoch
		step := time.Duration(c.minutes * float64(time.Minute))
		var got Rise
		var told bool
		for i := range 20 + len(c.ppm) {
			ppm := float64(1 + i%3)
			if i >= 20 {
				ppm = c.ppm[i-20]
			}
			s.Apply(at, ppm, step)
			r, is := s.Rising(Limits{CeilingPPM: 200}, 0)
			if is && !told {
				got, told = r, true
			}
			at = at.Add(step)
		}
		if told != (c.by > 0) || told && math.Abs(got.Minutes-c.minutesTo) > c.by {
			t.Errorf("%s: told %v, %.1f min; want %v ± %v", c.name, told, got.Minutes, c.minutesTo, c.by)
		}
		if f := s.Forecast(s.Last, Limits{CeilingPPM: 200}); told && (!f.Ceiling.OK || math.Abs(f.Ceiling.Minutes-c.minutesTo) > c.by+1) {
			t.Errorf("%s: the forecast says %+v, want %v min", c.name, f.Ceiling, c.minutesTo)
		}
	}
}

// Of fills that reach the ceiling in 3 to 24 min nearly all that a reading lies
// between are told of before it is reached.
func TestFastFillsAreToldBeforeTheCeiling(t *testing.T) {
	for step, least := range map[float64]int{30: 78, 120: 68, 300: 68, 600: 36} {
		told := 0
		for i := range uint64(80) {
			if toldBefore(rand.New(rand.NewPCG(9, i)), step) {
				told++
			}
		}
		if t.Logf("every %v s: %d of 80", step, told); told < least {
			t.Errorf("every %v s: %d of 80 fills were told before the ceiling, want %d", step, told, least)
		}
	}
}

func toldBefore(rng *rand.Rand, step float64) bool {
	const ceiling = 200
	s, bg := NewSensor(Heavy), 3*rng.Float64()
	reach, top := 180*math.Exp(rng.Float64()*math.Log(8)), 250*math.Exp(rng.Float64()*math.Log(8)) // s, ppm
	rate, begin := -math.Log(1-(ceiling-bg)/top)/reach, 10*3600+rng.Float64()*step
	told := false
	for x := 0.0; ; x += step {
		ppm := bg + top*(1-math.Exp(-rate*max(x-begin, 0))) + 0.7*rng.NormFloat64()
		if ppm >= ceiling {
			return told
		}
		s.Apply(epoch.AddSeconds(x), math.Round(ppm), time.Duration(step*float64(time.Second)))
		_, rising := s.Rising(Limits{CeilingPPM: ceiling}, 0)
		told = told || rising
	}
}
