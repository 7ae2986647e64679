package quantity_test

import (
	"errors"
	"math"
	"testing"

	"heaterd/ingest/quantity"
	"heaterd/ingest/reading"
)

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		name      string
		value     float64
		unit      string
		secondary bool
		want      reading.Sample
		reason    reading.Reason
	}{
		{name: "co", value: 35, unit: "ppm", want: reading.Sample{Has: reading.CO, CO: 35}},
		{name: "co", value: 35e-6, unit: "/", want: reading.Sample{Has: reading.CO, CO: 35}},
		{name: "co", value: -3, unit: "ppm", want: reading.Sample{Has: reading.CO, CO: -3}},
		{name: "co", value: 35, unit: "", reason: reading.BadUnit}, // two units are lawful: none may be guessed
		{name: "co", value: 35, unit: "/", reason: reading.BadRange},
		{name: "co", value: 35, unit: "Cel", reason: reading.BadUnit},
		{name: "co", value: 65535, unit: "ppm", want: reading.Sample{Has: reading.CO, CO: 65535}}, // what many cells say beyond their range
		{name: "co", value: 1_000_100, unit: "ppm", reason: reading.BadRange},
		{name: "co", value: -51, unit: "ppm", reason: reading.BadRange},
		{name: "co", value: math.NaN(), unit: "ppm", reason: reading.BadRange},
		{name: "co", value: math.Inf(1), unit: "ppm", reason: reading.BadRange},
		{name: "co", value: 1e308, unit: "/", reason: reading.BadRange},
		{name: "temp", value: 21.5, unit: "", want: reading.Sample{Has: reading.Temp, Temp: 21.5}},
		{name: "temp", value: 273.15, unit: "K", want: reading.Sample{Has: reading.Temp}},
		{name: "temp", value: -60.1, unit: "Cel", reason: reading.BadRange},
		{name: "temp", value: 150.1, unit: "Cel", reason: reading.BadRange},
		{name: "runtime", value: 3600, unit: "", want: reading.Sample{Has: reading.Runtime, Runtime: 3600}},
		{name: "runtime", value: 2, unit: "h", secondary: true, want: reading.Sample{Has: reading.Runtime, Runtime: 7200}},
		{name: "runtime", value: 2, unit: "min", secondary: true, want: reading.Sample{Has: reading.Runtime, Runtime: 120}},
		{name: "runtime", value: 2, unit: "h", reason: reading.BadUnit},
		{name: "runtime", value: -1, unit: "s", reason: reading.BadRange},
		{name: "runtime", value: 1.1e9, unit: "s", reason: reading.BadRange},
		{name: "fuel", value: 50, unit: "%", want: reading.Sample{Has: reading.Fuel, Fuel: 0.5}},
		{name: "fuel", value: 1.02, unit: "/", want: reading.Sample{Has: reading.Fuel, Fuel: 1}},
		{name: "fuel", value: -0.02, unit: "/", want: reading.Sample{Has: reading.Fuel}},
		{name: "fuel", value: 50, unit: "/", reason: reading.BadRange},
		{name: "battery", value: 98, unit: "%EL", want: reading.Sample{Has: reading.BatteryLevel, Battery: 0.98}},
		{name: "battery", value: 3.5, unit: "V", want: reading.Sample{Has: reading.BatteryVolts, Battery: 3.5}},
		{name: "battery", value: 61, unit: "V", reason: reading.BadRange},
		{name: "battery", value: 3.5, unit: "", reason: reading.BadUnit},
		{name: "flame", value: 1, unit: "", want: reading.Sample{Has: reading.Flame, On: reading.Flame}},
		{name: "call", value: 0, unit: "/", want: reading.Sample{Has: reading.Call}},
		{name: "supply", value: 0.5, unit: "", reason: reading.BadRange},
		{name: "flame", value: 1, unit: "Cel", reason: reading.BadUnit},
	} {
		got, err := quantity.Named(c.name).Number(c.value, c.unit, c.secondary)
		var r *reading.Refusal
		if errors.As(err, &r) != (c.reason != "") || r != nil && r.Reason != c.reason {
			t.Errorf("%s %g %q: got error %v, want %q", c.name, c.value, c.unit, err, c.reason)
		}
		if got != c.want {
			t.Errorf("%s %g %q: got %+v, want %+v", c.name, c.value, c.unit, got, c.want)
		}
	}
}

func TestSwitch(t *testing.T) {
	s, err := quantity.Named("supply").Switch(true)
	if want := (reading.Sample{Has: reading.Supply, On: reading.Supply}); err != nil || s != want {
		t.Errorf("got %+v, %v", s, err)
	}
	if _, err := quantity.Named("co").Switch(true); err == nil {
		t.Error("co true was taken")
	}
}

func TestEverySpecIsWhole(t *testing.T) {
	for _, name := range quantity.Names() {
		s := quantity.Named(name)
		if s.Bool {
			continue
		}
		if s.Min >= s.Max || s.Source == "" || len(s.Units) == 0 {
			t.Errorf("%s: range, source or units missing", name)
		}
	}
	if quantity.Named("ghost") != nil {
		t.Error("an unknown name was found")
	}
}
