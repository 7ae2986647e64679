package exposure

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What falls by the same share each minute is an air change, with the noise of a
// sensor and with air that is not mixed quite evenly; what falls along a straight
// line, or slowly and then at once, is none.
func TestOnlyADecayGivesAirChanges(t *testing.T) {
	for name, x := range map[string]struct {
		hours float64
		ppm   func(h float64) float64
		is    bool
	}{
		"1 an hour":               {1, func(h float64) float64 { return 2 + 100*math.Exp(-h) }, true},
		"3 an hour":               {1, func(h float64) float64 { return 2 + 100*math.Exp(-3*h) }, true},
		"0.4 an hour":             {2, func(h float64) float64 { return 2 + 60*math.Exp(-0.4*h) }, true},
		"straight, 100 to 20":     {1, func(h float64) float64 { return 100 - 80*h }, false},
		"straight, down and then": {2, func(h float64) float64 { return max(100-80*h, 20) }, false},
		"straight, 60 to 10":      {2, func(h float64) float64 { return 60 - 25*h }, false},
		"ever faster":             {2, func(h float64) float64 { return max(100-100*h*h, 0) }, false},
		"slowly, then at once":    {2, func(h float64) float64 { return min(100*math.Exp(-0.5*h), 86*math.Exp(-4*(h-0.3))) }, false},
	} {
		given := 0
		for seed := range uint64(20) {
			rng := rand.New(rand.NewPCG(seed, 9))
			var d Decay
			d.Apply(epoch, x.ppm(0), true)
			mixed := 0.0
			for s := 30.0; s <= x.hours*3600; s += 30 {
				mixed = 0.95*mixed + 0.003*rng.NormFloat64()
				d.Apply(epoch.AddSeconds(s), math.Round(x.ppm(s/3600)*(1+mixed)+0.7*rng.NormFloat64()), false)
			}
			if _, ok := d.AirChange(); ok {
				given++
			}
		}
		if x.is && given < 19 || !x.is && given > 1 {
			t.Errorf("%s: air changes from %d of 20 falls", name, given)
		}
	}
}
