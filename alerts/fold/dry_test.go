package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/record"
)

// A heater that is too small for its space hardly ever switches off: it runs
// until its tank is empty, and a person lights it again. That is no habit of its
// thermostat, however often it comes at the same temperature.
func TestRunningDryIsNoHabitOfTheThermostat(t *testing.T) {
	p := newPlay(t, 1)
	h := &p.fleet.Heaters[0]
	h.Thermostat, h.TankL, h.BurnLPerH = &fleet.Thermostat{SetpointC: 12, DifferentialC: 2}, 42, 4.2
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	for range 7 {
		p.step(record.Line{Entry: &record.Entry{Heater: h.ID, Task: "refuel"}})
		p.burn(9*time.Hour+30*time.Minute, h.Node) // of 10 by the plate
		p.out(2*time.Hour, h.Node)
	}
	p.step(record.Line{Entry: &record.Entry{Heater: h.ID, Task: "refuel"}})
	burns := p.engine.Finish().Burns
	if len(burns) == 0 {
		t.Fatal("all burns were told before the end")
	}
	for _, b := range burns {
		if b.Ending != outcome.FuelOut {
			t.Errorf("%s %q", b.Ending, b.Evidence)
		}
	}
}
