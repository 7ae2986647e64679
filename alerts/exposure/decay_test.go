package exposure

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// room is well-mixed air: C' = Σ sources − a·(C − bg), per hour.
type room struct{ c, a, bg float64 }

func (r *room) step(sec, ppmPerH float64) float64 {
	end := r.bg + ppmPerH/r.a
	r.c = end + (r.c-end)*math.Exp(-r.a*sec/3600)
	return r.c
}

func TestPublishedAirChanges(t *testing.T) {
	const source = "ln((C1−Cbg)/(C2−Cbg))/Δt, decay technique of ASTM E741; computed from the formula"
	for _, c := range []struct {
		name     string
		bg, want float64
	}{{"100 to 37 ppm in 60 min, no background", 0, 0.99425}, {"the same, background 9 ppm", 9, 1.17865}} {
		d := Decay{Known: true, Level: float32(c.bg)}
		d.Apply(epoch, 100, true)
		for x := 30.0; x <= 3600; x += 30 {
			d.Apply(epoch.AddSeconds(x), c.bg+(100-c.bg)*math.Exp(-c.want*x/3600), false)
		}
		got, ok := d.AirChange()
		if !ok {
			t.Fatal("a clean decay gave no figure")
		}
		published(t, c.name, source, c.want, got.PerH, 0.005*c.want)
	}
	const steadyState = "C = S/Q, 1 g/h into 50 m³ at 1 /h; 1.14489 mg/m³ per ppm at 25 °C"
	published(t, "steady state ppm", steadyState, 17.469, 20/1.14489, 5e-4)
	r := room{a: 1}
	r.step(24*3600, 1000/50/1.14489)
	published(t, "the same, by the room the tests use", steadyState, 17.469, r.c, 5e-4)
}

// Heaters cycle by day and rest at night, with noise and whole ppm.
func TestDecayFindsTheAirChanges(t *testing.T) {
	for _, a := range []float64{0.3, 0.6, 1, 2, 4} {
		for _, bg := range []float64{0, 3, 9} {
			for _, step := range []float64{30, 120} {
				d, n := dayInARoom(a, bg, step)
				got, ok := d.AirChange()
				if !ok || math.Abs(got.PerH-a) > 0.12*a || got.Low > a || got.High < a {
					t.Errorf("%v/h, background %v, every %v s: got %+v (%v) of %d readings, floor %+v",
						a, bg, step, got, ok, n, d.floor())
				}
			}
		}
	}
}

func dayInARoom(a, bg, step float64) (Decay, int) {
	rng := rand.New(rand.NewPCG(1, 2))
	var d Decay
	r, n := room{c: bg, a: a, bg: bg}, 0
	for x := 0.0; x < 36*3600; x += step {
		hour := math.Mod(x/3600, 24)
		lit := hour > 2 && hour < 11 && math.Mod(x, 3600) < 2400
		s := 0.0
		if lit {
			s = 60 * a
		}
		c := r.step(step, s)
		d.Apply(epoch.AddSeconds(x), math.Round(c+rng.NormFloat64()), lit)
		n++
	}
	return d, n
}

// Short records with a slow sensor: the figure may be missing, but where it
// is given its range must hold the truth.
func TestDecayRangeHoldsTheTruth(t *testing.T) {
	for name, lit := range map[string]func(h float64) bool{
		"an hour on, three out":  func(h float64) bool { return h > 0.2 && h < 1.2 },
		"half an hour on, out":   func(h float64) bool { return math.Mod(h, 1) < 0.5 },
		"twenty minutes on, out": func(h float64) bool { return math.Mod(h*60, 35) < 20 },
		"found lit, then out":    func(h float64) bool { return h < 1 },
	} {
		given, tried := 0, 0
		for _, a := range []float64{0.5, 1, 2, 4} {
			for seed := range uint64(10) {
				d := shortRecord(a, seed, lit)
				tried++
				got, ok := d.AirChange()
				if !ok {
					continue
				}
				given++
				if a < got.Low*0.95 || a > got.High*1.05 {
					t.Errorf("%s: got %+v, want %v", name, got, a)
				}
			}
		}
		if t.Logf("%s: a figure in %d of %d", name, given, tried); given < tried/2 {
			t.Errorf("%s: a figure in %d of %d", name, given, tried)
		}
	}
}

func shortRecord(a float64, seed uint64, lit func(h float64) bool) Decay {
	const bg, settled, lag = 2, 60, 45.0 // ppm, ppm above it, s
	rng := rand.New(rand.NewPCG(seed, 2))
	var d Decay
	r := room{c: bg, a: a, bg: bg}
	if lit(0) {
		r.c += settled
	}
	seen := r.c
	for x := 0.0; x < 4*3600; x += 30 {
		on, s := lit(x/3600), 0.0
		if on {
			s = settled * a
		}
		seen += (r.step(30, s) - seen) * (1 - math.Exp(-30/lag))
		d.Apply(epoch.AddSeconds(x), math.Round(seen+0.7*rng.NormFloat64()), on)
	}
	return d
}

func TestDecayStaysSilentWithoutADecay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.Float64Range(0, 60).Draw(t, "level")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 7))
		var d Decay
		for x := 0.0; x < 6*3600; x += 60 {
			d.Apply(epoch.AddSeconds(x), level+rng.NormFloat64(), x < 3600)
		}
		if got, ok := d.AirChange(); ok {
			t.Fatalf("level air gave %+v", got)
		}
	})
}

func TestDecayIgnoresTheTimeAFlameIsLit(t *testing.T) {
	var d Decay
	for x := 0.0; x < 3600; x += 30 {
		d.Apply(epoch.AddSeconds(x), 100*math.Exp(-x/3600), true)
	}
	if got, ok := d.AirChange(); ok {
		t.Errorf("a fall while lit gave %+v", got)
	}
}

func TestSourceFindsTheHeater(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	run := func(rates [3]float64, hours float64) (Blame, bool) {
		var s Source
		r := room{a: 0.8}
		for x := 0.0; x < hours*3600; x += 30 {
			lit, sum := uint8(0), 0.0
			for i, period := range []float64{3600, 2700, 5100} {
				if math.Mod(x, period) < period*0.6 {
					lit |= 1 << i
					sum += rates[i]
				}
			}
			s.Apply(epoch.AddSeconds(x), math.Round(r.step(30, sum)+rng.NormFloat64()), lit)
		}
		return s.Best()
	}
	for i := range 3 {
		rates := [3]float64{6, 6, 6}
		rates[i] = 60
		got, ok := run(rates, 8)
		if !ok || got.Heater != i || math.Abs(got.PPMPerH-60) > 12 {
			t.Errorf("heater %d: got %+v %v", i, got, ok)
		}
	}
	if got, ok := run([3]float64{30, 30, 30}, 8); ok {
		t.Errorf("three alike: got %+v", got)
	}
	if got, ok := run([3]float64{}, 8); ok {
		t.Errorf("no source: got %+v", got)
	}
	if got, ok := run([3]float64{60, 6, 6}, 0.3); ok {
		t.Errorf("too little seen: got %+v", got)
	}
}
