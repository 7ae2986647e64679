package burner_test

import (
	"slices"
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
)

// In the interval in which a counter breaks off neither witness is good for
// anything: a flame at both ends may have been out between, and none at
// either end may have burned.
func TestBreakOfTheCounterIsDoubtful(t *testing.T) {
	tests := map[string]struct {
		lit     [][2]float64
		u       unit
		silence [][2]float64
	}{
		"restart in a short break":           {lit: [][2]float64{{100, 3005}, {3035, 5000}}, u: unit{quantum: 1, resets: []reset{{3020, 0}}}},
		"restart after a short burn":         {lit: [][2]float64{{100, 2000}, {3005, 3050}}, u: unit{quantum: 1, resets: []reset{{3055, 0}}}},
		"other unit after a short burn":      {lit: [][2]float64{{100, 2000}, {3005, 3050}}, u: unit{quantum: 1, resets: []reset{{3055, 8_000_007}}}},
		"restarts of a counter of minutes":   {lit: [][2]float64{{100, 1059}, {1500, 2559}, {3000, 4059}}, u: unit{every: 10, quantum: 60, start: 777_777, resets: []reset{{1200, 0}, {2700, 0}, {4200, 0}}}},
		"restart near 0 in a silence, alone": {lit: [][2]float64{{0, 20_000}}, u: unit{every: 60, quantum: 1, start: 777_777, resets: []reset{{1, 0}, {541, 0}}, gaps: [][2]float64{{1, 481}, {541, 1621}}}},
		"two restarts within a minute":       {lit: [][2]float64{{0, 20_000}}, u: unit{every: 30, quantum: 1, flame: true, resets: []reset{{91, 0}, {122, 0}}, gaps: [][2]float64{{121, 181}}}},
		"stands still, then another burn":    {lit: [][2]float64{{0, 600}, {1501, 2101}}, u: unit{every: 60, quantum: 1, flame: true, start: 777_777, stuck: [2]float64{421, 1421}}},
		"a little higher, then silence":      {lit: [][2]float64{{100, 2000}, {5000, 8000}}, u: unit{quantum: 1, resets: []reset{{3001, 778_888 + 2000}}}, silence: [][2]float64{{3065, 20_000}}},
	}
	for name, c := range tests {
		t.Run(name, func(t *testing.T) {
			w := &truth{lit: c.lit, end: 24_000}
			u := c.u
			if u.every == 0 { // else as given: the counter of minutes is alone
				u.every, u.flame, u.start = 60, true, 777_777
			}
			u.counter, u.gaps = true, slices.Concat(u.gaps, c.silence)
			s, _ := run(u.samples(w), u.expected())
			h, really := s.HoursAt(at(w.end)), w.burned(0, w.end)
			if h.Low*3600 > really || h.High*3600 < really {
				t.Errorf("truth %.0f s outside %.1f … %.1f", really, h.Low*3600, h.High*3600)
			}
		})
	}
}

// Readings a quantum apart from what they round must not add up to a doubt
// of their own with every sample, nor look like a counter that stands still.
func TestRoundingDoesNotAddUp(t *testing.T) {
	w := &truth{end: 86_400}
	for a := 65.0; a < w.end; a += 1000 {
		w.lit = append(w.lit, [2]float64{a, a + 377})
	}
	for _, q := range []float64{1, 60, 360, 600, 1800} {
		u := &unit{every: 60, quantum: q, start: 777_600, flame: true, counter: true}
		s, _ := run(u.samples(w), u.expected())
		h := s.HoursAt(at(w.end))
		if wide := (h.High - h.Low) * 3600; wide > 4*q+200 || h.Jump {
			t.Errorf("quantum %v: %.0f s wide, jumped %v", q, wide, h.Jump)
		}
	}
}

// A value on trial changes nothing until a second one decides.
func TestTrialWaitsForASecondReading(t *testing.T) {
	var s burner.State
	o := burner.DefaultOptions()
	tell := func(sec, r float64) {
		s.Apply(reading.Sample{At: at(sec), Has: reading.Flame | reading.Runtime, On: reading.Flame, Runtime: r}, time.Minute, t0, &o)
	}
	for i := range 10 {
		tell(float64(i)*60, 5003+float64(i)*60)
	}
	tell(600, 90_007)
	if h := s.HoursAt(s.Last); h.Jump || h.High*3600 > 600 || h.Hours*3600 < 599 {
		t.Fatalf("on trial: %+v", h)
	}
	tell(660, 90_067)
	if h := s.HoursAt(s.Last); !h.Jump || h.High*3600 > 660 || h.Low*3600 > 640 || h.Low*3600 < 590 {
		t.Fatalf("confirmed: %+v", h)
	}
}

// A unit that has its power from its heater, and its counter in no lasting
// memory, begins anew when both get it back: for a night without mains the
// likeliest is what it counted since, whatever the flame was at both ends.
func TestAUnitWithoutPowerBurnedNothing(t *testing.T) {
	w := &truth{lit: [][2]float64{{0, 20_000}, {50_000, 60_000}}, end: 70_000}
	for _, q := range []float64{1, 360} {
		u := &unit{every: 30, quantum: q, flame: true, counter: true, start: 720_000, resets: []reset{{49_990, 0}}, gaps: [][2]float64{{20_000, 50_010}}}
		s, _ := run(u.samples(w), u.expected())
		h, really := s.HoursAt(at(w.end)), w.burned(0, w.end)/3600
		if h.Low > really || h.High < really || h.Hours < really-0.15 || h.Hours > really+0.15 {
			t.Errorf("steps of %v s: %.2f h, %.2f to %.2f, burned %.2f h", q, h.Hours, h.Low, h.High, really)
		}
	}
}
