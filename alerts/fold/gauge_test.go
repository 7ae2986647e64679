package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// A gauge that stands at 80 % while more and more is burned hides no empty
// tank; one that tells quarters is no such gauge.
func TestAStuckGaugeHidesNoEmptyTank(t *testing.T) {
	p := newPlay(t, 1)
	p.fleet.Heaters[0].Thermostat, p.fleet.Heaters[0].TankL, p.fleet.Heaters[0].BurnLPerH = nil, 40, 4
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	gauge := func(level float32) func(x *reading.Sample) {
		return func(x *reading.Sample) { x.Has |= reading.Fuel; x.Fuel = level }
	}
	want := func(low bool, when string) {
		t.Helper()
		if p.active(alarm.FuelLow) != low {
			t.Errorf("%s: low fuel is told: %v", when, !low)
		}
	}
	for _, quarters := range []float32{1, 0.75, 0.5, 0.25} {
		p.burnAs(150*time.Minute, "n-0", gauge(quarters))
	}
	want(false, "a gauge that tells quarters")
	p.burnAs(6*time.Hour, "n-0", gauge(0.8))
	want(false, "6 h at 80 %")
	p.burnAs(time.Hour, "n-0", gauge(0.8))
	want(true, "7 h at 80 %, which last 8 h")
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "refuel"}})
	p.burnAs(8*time.Hour, "n-0", gauge(0.8))
	want(false, "8 h after a fill, which lasts 10 h")
	p.burnAs(time.Hour, "n-0", gauge(0.8))
	want(true, "9 h after a fill")
	p.burnAs(20*time.Minute, "n-0", gauge(0.9))
	want(false, "a gauge that moves again")
	p.burnAs(11*time.Hour, "n-0", gauge(0.9))
	want(false, "filled by somebody who wrote nothing down")
}
