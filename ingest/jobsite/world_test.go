package jobsite_test

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/ingest/jobsite"
	"heaterd/ingest/reading"
)

const start = jobsite.LabelStart

func build(t testing.TB, s jobsite.Spec) *jobsite.World {
	t.Helper()
	w, err := jobsite.NewWorld(s)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// plain is one site of n heaters with true clocks and quiet sensors, each
// with a space of its own.
func plain(n int, thermostat *jobsite.Thermostat, sensors reading.Quantity, events ...jobsite.Event) jobsite.Spec {
	s := jobsite.SiteSpec{ID: "s", MeanC: 0}
	for i := range n {
		id := fmt.Sprint(i)
		s.Spaces = append(s.Spaces, jobsite.SpaceSpec{ID: "space" + id, VolumeM3: 500, TauH: 2, LossKWPerK: 2, AirPerH: 1, StartC: 9.5})
		s.Heaters = append(s.Heaters, jobsite.HeaterSpec{
			ID: "H" + id, Space: "space" + id, InputKW: 44, BurnLPerH: 4, TankL: 50, Thermostat: thermostat,
			Node: jobsite.NodeSpec{ID: "n" + id, Interval: 10 * time.Second, Sensors: sensors, TempNoiseC: 1e-9, CONoisePPM: 1e-9},
		})
	}
	return jobsite.Spec{Seed: 5, Start: start, Sites: []jobsite.SiteSpec{s}, Events: events}
}

func endings(t jobsite.Truth) (words []string) {
	for _, h := range t.Heaters {
		for _, b := range h.Burns {
			words = append(words, b.Ending)
		}
	}
	return words
}

// litUntil adds up the lit seconds of a heater before an instant.
func litUntil(h jobsite.HeaterTruth, at reading.Instant) float64 {
	sum := 0.0
	for _, b := range h.Burns {
		sum += max(0, min(b.End, at).Seconds(b.Start))
	}
	if h.LitSince != nil {
		sum += max(0, at.Seconds(*h.LitSince))
	}
	return sum
}

func litAt(h jobsite.HeaterTruth, at reading.Instant) bool {
	in := func(b jobsite.Burn) bool { return at >= b.Start && at < b.End }
	return slices.ContainsFunc(h.Burns, in) || h.LitSince != nil && at >= *h.LitSince
}

func TestSamplesAgreeWithTheTruth(t *testing.T) {
	spec := plain(3, &jobsite.Thermostat{SetpointC: 10, DifferentialC: 1}, reading.Call|reading.Fuel,
		jobsite.Event{At: time.Hour, Kind: jobsite.FlameOut, Heater: "H1", WaitLit: 1, For: time.Minute},
		jobsite.Event{At: 2 * time.Hour, Kind: jobsite.NotHolding, Heater: "H2", For: 10 * time.Minute, Value: 30})
	spec.Sites[0].Heaters[0].BurnFactor = 1.03
	w := build(t, spec)
	ms := w.Step(5 * time.Hour)
	truth := map[string]jobsite.HeaterTruth{}
	for i, h := range w.Truth().Heaters {
		truth[h.Node] = h
		if got := litUntil(h, w.Now()); got != float64(h.BurntS) || h.BurntS == 0 {
			t.Errorf("%s: %v s in burns, %d s burnt", h.ID, got, h.BurntS)
		}
		rate := 4.0 / 3600
		if i == 0 {
			rate *= 1.03
		}
		if want := 50 - float64(h.BurntS)*rate; math.Abs(h.FuelL-want) > 1e-6 {
			t.Errorf("%s: %v L left, want %v", h.ID, h.FuelL, want)
		}
	}
	for _, m := range ms {
		h, s := truth[m.Node], m.Samples[0]
		if s.Lit() != litAt(h, s.At) {
			t.Fatalf("%s at %v: flame %v", m.Node, s.At, s.Lit())
		}
		if want := litUntil(h, s.At); s.Runtime != want {
			t.Fatalf("%s at %v: counter %v, want %v", m.Node, s.At, s.Runtime, want)
		}
	}
}

func TestThermostatConventions(t *testing.T) {
	for _, c := range []struct {
		band    jobsite.Band
		on, off float64
	}{
		{jobsite.OffAbove, 10, 12}, {jobsite.OnBelow, 8, 10}, {jobsite.Straddle, 9, 11}, {"", 9, 11},
	} {
		w := build(t, plain(1, &jobsite.Thermostat{SetpointC: 10, DifferentialC: 2, Band: c.band}, 0))
		lo, hi := 99.0, -99.0
		w.Step(2 * time.Hour)
		for _, m := range w.Step(6 * time.Hour) {
			lo, hi = min(lo, float64(m.Samples[0].Temp)), max(hi, float64(m.Samples[0].Temp))
		}
		if math.Abs(lo-c.on) > 0.15 || math.Abs(hi-c.off) > 0.15 {
			t.Errorf("%q: air between %.2f and %.2f °C, want %v to %v", c.band, lo, hi, c.on, c.off)
		}
	}
}

func TestEachFaultHasItsEnding(t *testing.T) {
	none := reading.Quantity(0)
	at := 10 * time.Minute
	for _, c := range []struct {
		name    string
		heaters int
		sensors reading.Quantity
		event   jobsite.Event
		want    []string
	}{
		{"cut, reported", 2, reading.Supply, jobsite.Event{Kind: jobsite.SupplyCut, Site: "s", For: 2 * time.Hour}, []string{"supply-lost", "supply-lost"}},
		{"cut, not reported", 2, none, jobsite.Event{Kind: jobsite.SupplyCut, Site: "s", For: 2 * time.Hour}, []string{"site-wide", "site-wide"}},
		{"cut of one, not reported", 2, none, jobsite.Event{Kind: jobsite.SupplyCut, Heater: "H0", For: 2 * time.Hour}, []string{"unexplained"}},
		{"gust", 3, none, jobsite.Event{Kind: jobsite.Gust, Site: "s", For: 2 * time.Hour}, []string{"site-wide", "site-wide", "site-wide"}},
		{"lockout", 1, none, jobsite.Event{Kind: jobsite.FlameOut, Heater: "H0", For: 2 * time.Hour}, []string{"unexplained"}},
		{"switched off", 1, none, jobsite.Event{Kind: jobsite.SwitchOff, Heater: "H0", For: 2 * time.Hour}, []string{"planned"}},
		{"switched off, not written down", 1, none, jobsite.Event{Kind: jobsite.SwitchOff, Heater: "H0", For: 2 * time.Hour, Unlogged: true}, []string{"unexplained"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.event.At = at
			w := build(t, plain(c.heaters, nil, c.sensors, c.event))
			w.Step(90 * time.Minute)
			if got := endings(w.Truth()); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
			w.Step(90 * time.Minute)
			for _, h := range w.Truth().Heaters {
				if h.LitSince == nil {
					t.Errorf("%s does not burn again", h.ID)
				}
			}
		})
	}
}

func TestFuelRunsOutAndIsFilledAgain(t *testing.T) {
	w := build(t, plain(1, nil, reading.Fuel, jobsite.Event{Kind: jobsite.RunDry, Heater: "H0"}))
	w.Step(17 * time.Hour)
	h := w.Truth().Heaters[0]
	if len(h.Burns) != 1 || h.Burns[0].Ending != "fuel-out" {
		t.Fatalf("burns %+v", h.Burns)
	}
	if got, want := h.Burns[0].End.Seconds(h.Burns[0].Start), 50.0/4*3600; math.Abs(got-want) > 1 {
		t.Errorf("a tank lasts %v s, want %v", got, want)
	}
	acts := w.Acts()
	if len(acts) != 2 || acts[1].Entry == nil || acts[1].Entry.Task != "refuel" || acts[1].At < h.Burns[0].End {
		t.Errorf("acts %+v", acts)
	}
	if h.LitSince == nil {
		t.Error("not lit after the refuel")
	}
}

func TestPeopleForget(t *testing.T) {
	for _, forget := range []float64{0, 1} {
		s := plain(1, nil, 0, jobsite.Event{At: time.Hour, Kind: jobsite.SwitchOff, Heater: "H0", For: time.Hour, Lead: -3 * time.Minute})
		s.Forget = forget
		w := build(t, s)
		w.Step(3 * time.Hour)
		acts := w.Acts()
		if forget == 1 {
			if len(acts) != 1 { // the filling at the start
				t.Errorf("wrote %+v", acts)
			}
			continue
		}
		end := w.Truth().Heaters[0].Burns[0].End
		if len(acts) != 2 || acts[1].Stop == nil || end.Sub(acts[1].At) != 3*time.Minute {
			t.Errorf("wrote %+v, off at %v", acts, end)
		}
	}
}

func TestSilenceHidesAndOutageOnlyDelays(t *testing.T) {
	off := jobsite.Event{At: 30 * time.Minute, Kind: jobsite.SwitchOff, Heater: "H0", For: time.Hour}
	for _, c := range []struct {
		kind           jobsite.Kind
		during, after  string
		missingSamples bool
	}{
		{jobsite.Silence, "unknown", "unknown", true},
		{jobsite.Outage, "unknown", "planned", false},
	} {
		w := build(t, plain(1, nil, 0, off, jobsite.Event{At: 20 * time.Minute, Kind: c.kind, Heater: "H0", For: 20 * time.Minute}))
		ms := w.Step(35 * time.Minute)
		if got := endings(w.Truth()); !slices.Equal(got, []string{c.during}) {
			t.Errorf("%s: while away %v", c.kind, got)
		}
		ms = append(ms, w.Step(15*time.Minute)...)
		if got := endings(w.Truth()); !slices.Equal(got, []string{c.after}) {
			t.Errorf("%s: afterwards %v", c.kind, got)
		}
		samples, status := 0, ""
		for _, m := range ms {
			samples += len(m.Samples)
			status += m.Status
		}
		if status != "offlineonline" {
			t.Errorf("%s: status %q", c.kind, status)
		}
		if missing := samples < 50*6; missing != c.missingSamples {
			t.Errorf("%s: %d samples", c.kind, samples)
		}
	}
}

// One sample, a pack and more than a pack: a node hands over all it kept.
func TestOutagesKeepEverySample(t *testing.T) {
	for _, d := range []time.Duration{10 * time.Second, 20 * time.Minute, 2 * time.Hour} {
		w := build(t, plain(1, nil, 0, jobsite.Event{At: 10 * time.Minute, Kind: jobsite.Outage, Heater: "H0", For: d}))
		got, last := 0, reading.Instant(0)
		for _, m := range w.Step(3 * time.Hour) {
			for _, s := range m.Samples {
				if last != 0 && s.At.Sub(last) != 10*time.Second {
					t.Fatalf("outage of %v: %v after %v", d, s.At, last)
				}
				last = s.At
				got++
			}
		}
		if got != 3*360 {
			t.Errorf("outage of %v: %d samples", d, got)
		}
	}
}

func TestCounterAndClockFaults(t *testing.T) {
	w := build(t, plain(1, nil, 0,
		jobsite.Event{At: 10 * time.Minute, Kind: jobsite.Reboot, Heater: "H0"},
		jobsite.Event{At: 20 * time.Minute, Kind: jobsite.Swap, Heater: "H0", Value: 777000},
		jobsite.Event{At: 30 * time.Minute, Kind: jobsite.ClockStep, Heater: "H0", Value: -3600, For: 5 * time.Minute}))
	last := func(d time.Duration) (jobsite.Message, reading.Sample) {
		ms := w.Step(d)
		m := ms[len(ms)-1]
		return m, m.Samples[0]
	}
	_, s := last(11 * time.Minute)
	if s.Runtime > 60 {
		t.Errorf("counter %v after a reboot", s.Runtime)
	}
	if _, s = last(10 * time.Minute); s.Runtime < 777000 || s.Runtime > 777060 {
		t.Errorf("counter %v after a swap", s.Runtime)
	}
	if m, s := last(10 * time.Minute); m.At.Sub(s.At) != time.Hour {
		t.Errorf("clock off by %v", m.At.Sub(s.At))
	}
	if m, s := last(5 * time.Minute); m.At != s.At {
		t.Errorf("clock still off by %v", m.At.Sub(s.At))
	}
}

func published(ms []jobsite.Message) []byte {
	var b bytes.Buffer
	for _, m := range ms {
		fmt.Fprintf(&b, "%v %s %s\n", m.At, m.Topic(), m.Payload())
	}
	return b.Bytes()
}

// However the time is cut into steps, the same seed gives the same bytes.
func TestStepsMayBeCutAnywhere(t *testing.T) {
	const span = 40 * time.Minute
	want := published(build(t, jobsite.Demo(9, start)).Step(span))
	rapid.Check(t, func(t *rapid.T) {
		w, err := jobsite.NewWorld(jobsite.Demo(9, start))
		if err != nil {
			t.Fatal(err)
		}
		var ms []jobsite.Message
		for left := span; left > 0; {
			d := min(left, time.Duration(rapid.Int64Range(int64(10*time.Millisecond), int64(20*time.Minute)).Draw(t, "step")))
			ms = append(ms, w.Step(d)...)
			left -= d
		}
		if !bytes.Equal(published(ms), want) {
			t.Fatal("other bytes")
		}
	})
	if bytes.Equal(published(build(t, jobsite.Demo(10, start)).Step(span)), want) {
		t.Error("another seed gives the same bytes")
	}
}

func TestMessagesComeInOrder(t *testing.T) {
	var last reading.Instant
	w := build(t, jobsite.LabelledSpec(2, jobsite.LabelSpec{Days: 1}))
	for range 24 {
		for _, m := range w.Step(time.Hour) {
			if m.At < last {
				t.Fatalf("%v after %v", m.At, last)
			}
			last = m.At
		}
	}
}

func TestNewWorldRefuses(t *testing.T) {
	for name, spoil := range map[string]func(*jobsite.Spec){
		"space of no volume": func(s *jobsite.Spec) { s.Sites[0].Spaces[0].VolumeM3 = 0 },
		"unknown space":      func(s *jobsite.Spec) { s.Sites[0].Heaters[0].Space = "x" },
		"unknown zone":       func(s *jobsite.Spec) { s.Sites[0].Zone = "Nowhere/At-all" },
		"node used twice":    func(s *jobsite.Spec) { s.Sites[0].Heaters[0].Node.ID = "n1" },
		"event on nothing":   func(s *jobsite.Spec) { s.Events = []jobsite.Event{{Kind: jobsite.Reboot, Heater: "x"}} },
	} {
		s := plain(2, nil, 0)
		spoil(&s)
		if _, err := jobsite.NewWorld(s); err == nil {
			t.Errorf("%s is accepted", name)
		}
	}
}

func BenchmarkThousandHeatersHour(b *testing.B) {
	w := build(b, jobsite.LabelledSpec(1, jobsite.LabelSpec{Heaters: 1000, Days: 2}))
	for b.Loop() {
		w.Step(time.Hour)
	}
}
