package burner_test

import (
	"math"
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
	"pgregory.net/rapid"
)

// Every burn is found, and placed to the counter's second where only one
// change lies between two samples.
func TestBurnsAreFoundAndPlaced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawTruth(t, 40)
		w.lit = legible(w.lit)
		u := &unit{every: 60, quantum: 1, start: 1_234_567, flame: true, counter: true}
		s, burns := run(u.samples(w), u.expected())
		ended := 0
		for _, l := range w.lit {
			if l[1] > l[0] && math.Ceil(l[1]/60)*60 <= w.end {
				ended++
			}
		}
		if math.Abs(float64(len(burns)-ended)) > 1 { // one burn may end on the first sample, unseen
			t.Fatalf("%d burns found, %d ended", len(burns), ended)
		}
		if h := s.HoursAt(at(w.end)); h.Burns != len(burns) {
			t.Fatalf("counted %d of %d", h.Burns, len(burns))
		}
		for _, b := range burns {
			placed(t, w, b)
		}
	})
}

// legible leaves out burns, and breaks between burns, that are shorter than the
// time between two samples: of several inside it only the sum can be told.
func legible(lit [][2]float64) [][2]float64 {
	const least = 61 // s
	var out [][2]float64
	for _, l := range lit {
		switch n := len(out); {
		case n > 0 && l[0]-out[n-1][1] < least:
			out[n-1][1] = max(out[n-1][1], l[1])
		case l[1]-l[0] >= least:
			out = append(out, l)
		}
	}
	return out
}

func placed(t *rapid.T, w *truth, b burner.Burn) {
	t.Helper()
	for _, l := range w.lit {
		if a, z := l[0], l[1]; at(a) <= b.StartHigh.AddSeconds(3) && at(z) >= b.EndLow.AddSeconds(-3) &&
			(b.StartUnseen || at(a) >= b.StartLow.AddSeconds(-3)) && at(z) <= b.EndHigh.AddSeconds(3) {
			return
		}
	}
	t.Fatalf("no such burn: %v … %v (end within %v … %v)", b.Start.Seconds(t0), b.End.Seconds(t0), b.EndLow.Seconds(t0), b.EndHigh.Seconds(t0))
}

func TestBurnAcrossGap(t *testing.T) {
	burn := func(a, b float64) [2]float64 { return [2]float64{a, b} }
	gap := func(a, b float64) [][2]float64 { return [][2]float64{{a, b}} }
	tests := map[string]struct {
		lit     [][2]float64
		gaps    [][2]float64
		counter bool
		ends    []float64
		silent  []bool
	}{
		"counter bridges a long gap":           {[][2]float64{burn(90, 9000)}, gap(600, 8000), true, []float64{9000}, []bool{false}},
		"two lost samples are no silence":      {[][2]float64{burn(90, 1210)}, gap(1200, 1310), true, []float64{1210}, []bool{false}},
		"two lost samples without counter":     {[][2]float64{burn(90, 1210)}, gap(1200, 1310), false, []float64{1230}, []bool{false}},
		"short gap without counter is bridged": {[][2]float64{burn(90, 1210)}, gap(600, 830), false, []float64{1200}, []bool{false}},
		"long gap without counter is not":      {[][2]float64{burn(90, 3010)}, gap(600, 1790), false, []float64{870, 3000}, []bool{true, false}},
		"ended in silence, known by counter":   {[][2]float64{burn(90, 2000)}, gap(600, 3590), true, []float64{2000}, []bool{true}},
		"ended in silence and lit again":       {[][2]float64{burn(90, 1000), burn(2000, 4000)}, gap(600, 2990), true, []float64{1280, 4000}, []bool{true, false}},
		"short burn between two samples":       {[][2]float64{burn(605, 645)}, nil, true, []float64{650}, []bool{false}},
		"short break between two samples":      {[][2]float64{burn(90, 615), burn(640, 900)}, nil, true, []float64{617, 900}, []bool{false, false}},
	}
	for name, c := range tests {
		t.Run(name, func(t *testing.T) {
			w := &truth{lit: c.lit, end: 12_000}
			u := &unit{every: 60, quantum: 1, start: 777_777, gaps: c.gaps, flame: true, counter: c.counter}
			_, burns := run(u.samples(w), u.expected())
			if len(burns) != len(c.ends) {
				t.Fatalf("%d burns, want %d: %+v", len(burns), len(c.ends), burns)
			}
			for i, b := range burns {
				off := math.Abs(b.End.Seconds(t0) - c.ends[i])
				if off > 31 || off > 2 && c.counter && !b.Silent && len(c.lit) == 1 && name[:5] != "short" || b.Silent != c.silent[i] {
					t.Errorf("burn %d ended at %v silent %v, want %v %v", i, b.End.Seconds(t0), b.Silent, c.ends[i], c.silent[i])
				}
			}
		})
	}
}

func TestCounterAloneShowsBurns(t *testing.T) {
	w := &truth{lit: [][2]float64{{100, 1000}, {2000, 3500}}, end: 6000}
	u := &unit{every: 60, quantum: 1, start: 55_555, counter: true}
	s, burns := run(u.samples(w), u.expected())
	if len(burns) != 2 || math.Abs(burns[0].Seconds-900) > 5 || math.Abs(burns[1].Seconds-1500) > 5 {
		t.Fatalf("%+v", burns)
	}
	if h := s.HoursAt(at(6000)); h.Source != "counter" || h.Ignitions != 2 {
		t.Fatalf("%+v", h)
	}
}

func TestWildValueDisturbsNothing(t *testing.T) {
	w := &truth{lit: [][2]float64{{100, 5000}}, end: 6000}
	for _, wild := range []float64{1e9, -700_000, 5e5} {
		u := &unit{every: 60, quantum: 1, start: 777_777, flame: true, counter: true, wild: map[int]float64{40: wild}}
		s, burns := run(u.samples(w), u.expected())
		h := s.HoursAt(at(6000))
		if h.Jump || len(burns) != 1 || math.Abs(h.Hours*3600-4900) > 2 || (h.High-h.Low)*3600 > 6 {
			t.Fatalf("wild %v: %+v, %d burns", wild, h, len(burns))
		}
	}
}

func TestJumpIsTold(t *testing.T) {
	w := &truth{lit: [][2]float64{{100, 5000}}, end: 6000}
	tests := map[string]struct {
		u    unit
		jump bool
	}{
		"another unit, higher": {unit{resets: []reset{{3000, 8_000_000}}}, true},
		"restart":              {unit{resets: []reset{{3000, 0}}}, false},
		"stuck while lit":      {unit{stuck: [2]float64{1020, 4000}}, true},
		"quiet":                {unit{}, false},
	}
	for name, c := range tests {
		t.Run(name, func(t *testing.T) {
			u := c.u
			u.every, u.quantum, u.start, u.flame, u.counter = 60, 1, 777_777, true, true
			s, burns := run(u.samples(w), u.expected())
			h := s.HoursAt(at(6000))
			if _, told := s.LastJump(); told != c.jump || h.Jump != c.jump {
				t.Fatalf("jump %v, want %v: %+v", told, c.jump, h)
			}
			if len(burns) != 1 || math.Abs(h.Hours*3600-4900) > 65 {
				t.Fatalf("%d burns, %+v", len(burns), h)
			}
		})
	}
}

// A counter that runs while the flame is out contradicts it.
func TestCounterRunningWhileUnlit(t *testing.T) {
	var s burner.State
	o := burner.DefaultOptions()
	for i := range 100 {
		x := reading.Sample{At: at(float64(i) * 60), Has: reading.Flame | reading.Runtime, Runtime: 5000 + float64(i)*60}
		if _, n := s.Apply(x, time.Minute, t0, &o); n != 0 {
			t.Fatal("a burn without a flame")
		}
	}
	if h := s.HoursAt(s.Last); !h.Jump || h.Low > 0.02 || h.High < 1.6 {
		t.Fatalf("%+v", h)
	}
}

func TestAnchorReplacesTheEstimate(t *testing.T) {
	w := &truth{lit: [][2]float64{{100, 20_000}}, end: 20_000}
	u := &unit{every: 60, quantum: 1, start: 777_777, flame: true, counter: true}
	var s burner.State
	o := burner.DefaultOptions()
	read := false
	for _, x := range u.samples(w) {
		if x.At >= at(7300) && !read {
			s.Anchor(at(7300), at(7300), 412.5, burner.Span{}, &o)
			read = true
		}
		s.Apply(x, time.Minute, t0, &o)
	}
	h := s.HoursAt(at(20_000))
	want := 412.5 + 12_700.0/3600
	if h.Low > want || h.High < want || math.Abs(h.Hours-want) > 0.02 || h.High-h.Low > 0.2 {
		t.Fatalf("want %.4f, got %+v", want, h)
	}
	if math.Abs(h.Run-19_900.0/3600) > 0.02 || math.Abs(s.Meter.Before-2) > 0.02 || s.Meter.Read != 412.5 {
		t.Fatalf("audit: %+v run %v", s.Meter, h.Run)
	}
}

// The temperature, the call and the mains around an ending are handed on.
func TestWhatSurroundsAnEnding(t *testing.T) {
	var s burner.State
	o := burner.DefaultOptions()
	var b burner.Burn
	for i := range 40 {
		on := reading.Call | reading.Supply | reading.Flame
		if i == 30 {
			on = reading.Supply
		}
		x := reading.Sample{
			At: at(float64(i) * 60), Has: reading.Flame | reading.Temp | reading.Call | reading.Supply | reading.Fuel,
			On: on, Temp: 5 + float32(min(i, 30))*0.1, Fuel: 0.5,
		}
		if got, n := s.Apply(x, time.Minute, t0, &o); n > 0 {
			b = got[0]
		}
	}
	switch {
	case b.CallFell != at(1800), b.SupplyFell != 0, !b.Before.Carries(reading.Call), b.Before.On&reading.Call == 0, b.After.On&reading.Call != 0:
		t.Fatalf("%+v", b)
	case !b.HasTemp, math.Abs(float64(b.TempEnd)-8) > 0.01, math.Abs(float64(b.TempEndRate)-6) > 0.1, !b.StartUnseen:
		t.Fatalf("%+v", b)
	}
	if cur, lit := s.Current(); !lit || cur.Start != at(1830) || cur.End != at(39*60) {
		t.Fatalf("%+v", cur)
	}
}

// Told that another unit was fitted, the counter's change is neither a jump
// nor a restart, and nothing but the interval of the change is doubtful.
func TestRefitTakesANewCounter(t *testing.T) {
	w := &truth{lit: [][2]float64{{100, 5000}}, end: 6000}
	for _, to := range []float64{13, 8_000_007} {
		u := &unit{every: 60, quantum: 1, start: 777_777, flame: true, counter: true, resets: []reset{{3000, to}}}
		var s burner.State
		o := burner.DefaultOptions()
		told := false
		for _, x := range u.samples(w) {
			if !told && x.At >= at(3000) {
				s.Refit()
				told = true
			}
			s.Apply(x, time.Minute, t0, &o)
		}
		h := s.HoursAt(at(6000))
		if h.Jump || s.Restarts != 0 || math.Abs(h.Hours*3600-4900) > 2 || h.Low*3600 > 4900 || h.High*3600 < 4900 || (h.High-h.Low)*3600 > 12 {
			t.Errorf("to %v: %+v restarts %d", to, h, s.Restarts)
		}
	}
}
