package jobsite

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// zone is a space with nothing but what a balance needs, at 0 °C outside.
func zone(s SpaceSpec) *space {
	s.LossKWPerK = max(s.LossKWPerK, 1)
	s.TauH = max(s.TauH, 1)
	sp := newSpace(s, &site{})
	return &sp
}

func (s *space) run(hours float64) {
	for range int(math.Round(hours * 3600)) {
		s.second()
	}
}

// burning puts a lit heater with a CO source of g/h and a heat of kW into it.
func (s *space) burning(gPerH, kW float64) {
	s.heaters = []*heater{{phase: lit, foul: 1, spec: HeaterSpec{COGPerH: gPerH, InputKW: kW}}}
	s.recount()
}

func near(t *testing.T, name, source string, want, got, within float64) {
	t.Helper()
	t.Logf("%s | %s | expected %.6g | got %.6g", name, source, want, got)
	if math.Abs(want-got) > within {
		t.Errorf("%s: got %v, want %v within %v", name, got, want, within)
	}
}

// The figures are the single-zone balance of the ASTM E741 decay technique
// put into numbers; no measured record stands behind them.
func TestPublishedCOBalance(t *testing.T) {
	const balance = "C(t) = Cout + S/Q + (C0 − Cout − S/Q)·e^(−Qt/V), computed"

	tent := zone(SpaceSpec{VolumeM3: 50, AirPerH: 1})
	tent.burning(1, 0)
	tent.run(40)
	near(t, "1 g/h into 50 m³ at 1 /h settles, ppm at 25 °C", balance, 17.469, tent.coPPM, 0.0005)

	for _, c := range []struct{ air, background float64 }{{0.99425, 0}, {1.17865, 9}} {
		hall := zone(SpaceSpec{VolumeM3: 700, AirPerH: c.air, BackgroundPPM: c.background, StartPPM: 100})
		hall.run(1)
		near(t, "100 ppm after 60 min of decay, ppm", "ASTM E741 decay technique, computed", 37, hall.coPPM, 0.001)
	}
}

func TestPublishedCooling(t *testing.T) {
	celsius := func(f float64) float64 { return (f - 32) / 1.8 }
	s := zone(SpaceSpec{VolumeM3: 1, TauH: 16.6, AirPerH: 1, StartC: celsius(68)})
	s.site.outsideC = celsius(35)
	s.run(13.0884)
	near(t, "68 °F to 50 °F at 35 °F outside, τ 16.6 h, °C after 13.0884 h",
		"T(t) = Ta + (T0−Ta)e^(−t/τ), computed", celsius(50), s.tempC, 0.0005)
}

// Any source, ventilation and start must follow the closed forms, and heat
// must go the same way.
func TestBalancesFollowClosedForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		spec := SpaceSpec{
			VolumeM3: f("m3", 50, 5000), AirPerH: f("air", 0.3, 4), BackgroundPPM: f("background", 0.5, 2),
			StartPPM: f("ppm", 1, 300), TauH: f("tau", 2, 20), LossKWPerK: f("loss", 1, 5), StartC: f("c", -5, 20),
		}
		g, kW, hours := f("g", 0, 100), f("kw", 0, 90), f("hours", 0.1, 3)
		s := zone(spec)
		s.site.outsideC = f("outside", -10, 8)
		s.burning(g, kW)
		s.run(hours)
		hours = math.Round(hours*3600) / 3600

		settle := spec.BackgroundPPM + g*1000/1.14489/(spec.AirPerH*spec.VolumeM3)
		wantCO := settle + (spec.StartPPM-settle)*math.Exp(-spec.AirPerH*hours)
		warm := s.site.outsideC + kW/spec.LossKWPerK
		wantC := warm + (spec.StartC-warm)*math.Exp(-hours/spec.TauH)
		if math.Abs(s.coPPM-wantCO) > 1e-6*(1+wantCO) || math.Abs(s.tempC-wantC) > 1e-6 {
			t.Fatalf("after %v h got %v ppm, %v °C; want %v ppm, %v °C", hours, s.coPPM, s.tempC, wantCO, wantC)
		}
	})
}

func TestOffHours(t *testing.T) {
	o := OffHours{Days: days("sat sun"), From: clock(18, 0), To: clock(5, 0)}
	day := OffHours{Days: days("mon"), From: clock(9, 0), To: clock(10, 0)}
	for _, c := range []struct {
		off  OffHours
		day  int
		at   int
		want bool
	}{
		{o, 6, 17, false}, {o, 6, 18, true}, {o, 0, 4, true}, {o, 0, 5, false}, {o, 0, 18, true},
		{o, 1, 4, true}, {o, 1, 5, false}, {o, 1, 18, false}, {o, 6, 4, false},
		{day, 1, 9, true}, {day, 1, 10, false}, {day, 2, 9, false},
	} {
		if got := c.off.covers(weekday(c.day), clock(c.at, 0)); got != c.want {
			t.Errorf("%v at day %d, %d h: got %v", c.off, c.day, c.at, got)
		}
	}
}
