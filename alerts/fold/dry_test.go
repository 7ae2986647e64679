package fold_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
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

func (p *play) refuel() {
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "refuel"}})
}

// outAs is burnAs without a flame.
func (p *play) outAs(d time.Duration, node reading.NodeID, fit func(x *reading.Sample)) {
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample(node)
		x.On &^= reading.Flame
		fit(&x)
		p.send(node, x)
	}
}

func (p *play) first() outcome.Burn { return p.engine.Finish().Burns[0] }

// Nobody fills the tank of a heater that burns: a fill written down well after
// it lit again was before that, where the tank had run dry by the hours. What
// it burned meanwhile is of the new fill.
func TestAFillWrittenDownWhileItBurnsAgain(t *testing.T) {
	for _, c := range []struct {
		burned time.Duration
		want   outcome.Ending
	}{{9 * time.Hour, outcome.FuelOut}, {5 * time.Hour, outcome.Unexplained}} {
		p := newPlay(t, 1)
		h := &p.fleet.Heaters[0]
		h.Thermostat, h.TankL, h.BurnLPerH = nil, 42, 4.2
		p.engine = fold.New(p.fleet, fold.DefaultRules())
		p.refuel()
		p.burn(c.burned+6*time.Minute, h.Node)
		p.out(30*time.Minute, h.Node)
		p.burn(90*time.Minute, h.Node)
		p.refuel()
		p.burn(7*time.Hour, h.Node)
		if b := p.first(); b.Ending != c.want {
			t.Errorf("after %v: %s %q, want %s", c.burned, b.Ending, b.Evidence, c.want)
		}
		if v := p.engine.View().Heaters[0]; c.want == outcome.FuelOut && (v.Level < 0.13 || v.Level > 0.17) {
			t.Errorf("8.5 h after the fill the tank is told to be at %.2f", v.Level)
		}
	}
}

// A gauge that stood still hides no empty tank from who asks why it went out.
func TestAStuckGaugeExplainsNoStop(t *testing.T) {
	stuck := func(x *reading.Sample) { x.Has |= reading.Fuel; x.Fuel = 0.6 }
	p := newPlay(t, 1)
	h := &p.fleet.Heaters[0]
	h.Thermostat, h.TankL, h.BurnLPerH = nil, 42, 4.2
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.refuel()
	p.burnAs(9*time.Hour+54*time.Minute, h.Node, stuck)
	p.outAs(5*time.Minute, h.Node, stuck)
	if b := p.first(); b.Ending != outcome.FuelOut || !strings.Contains(b.Evidence[0], "its fuel gauge stands still") {
		t.Errorf("%s %q", b.Ending, b.Evidence)
	}
}

// A tank that was at its end by the hours, and from which the heater burned on
// until the fill that was written down next, was not empty. Where the hours go
// beyond a tank a fill was not written down, and last drops prove nothing.
func TestWhoBurnsOnUntilTheNextFillHadFuel(t *testing.T) {
	for _, c := range []struct {
		on   time.Duration
		want outcome.Ending
	}{{time.Hour, outcome.Unexplained}, {5 * time.Hour, outcome.FuelOut}, {6 * time.Minute, outcome.FuelOut}} {
		p := newPlay(t, 1)
		h := &p.fleet.Heaters[0]
		h.Thermostat, h.TankL, h.BurnLPerH = nil, 42, 4.2
		p.engine = fold.New(p.fleet, fold.DefaultRules())
		p.refuel()
		p.burn(9*time.Hour+24*time.Minute, h.Node) // of 10 by the plate
		p.out(time.Hour, h.Node)
		p.burn(c.on, h.Node)
		p.out(4*time.Hour, h.Node)
		p.refuel()
		p.burn(30*time.Minute, h.Node)
		if b := p.first(); b.Ending != c.want {
			t.Errorf("it burned on for %v: %s %q, want %s", c.on, b.Ending, b.Evidence, c.want)
		}
	}
}

// Of a tank that the configuration does not measure the heater's own runs tell
// how long it lasts: one that was filled before it lit again had run dry after
// about as long as ever, and not after much less.
func TestATankNobodyMeasured(t *testing.T) {
	p := newPlay(t, 1)
	h := &p.fleet.Heaters[0]
	h.Thermostat, h.TankL = nil, 0
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.refuel()
	want := []outcome.Ending{outcome.FuelOut, outcome.FuelOut, outcome.Unexplained}
	for _, burned := range []time.Duration{10 * time.Hour, 10*time.Hour - 12*time.Minute, 5 * time.Hour} {
		p.burn(burned, h.Node)
		p.out(time.Hour, h.Node)
		p.refuel()
	}
	p.burn(3*time.Hour, h.Node)
	for i, b := range p.engine.Finish().Burns {
		if i < len(want) && b.Ending != want[i] {
			t.Errorf("stop %d: %s %q, want %s", i+1, b.Ending, b.Evidence, want[i])
		}
	}
}
