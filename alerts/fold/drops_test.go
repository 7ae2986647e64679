package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// tank has one heater whose tank lasts ten hours by the plate, and that no
// thermostat switches.
func tank(t *testing.T) (*play, reading.NodeID) {
	p := newPlay(t, 1)
	h := &p.fleet.Heaters[0]
	h.Thermostat, h.TankL, h.BurnLPerH = nil, 42, 4.2
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	return p, h.Node
}

// A heater's own control tries again within a minute, and what is left in line
// and pump burns for some seconds: that is no fuel. One that then goes on for an
// hour, or that a person lights again without filling it, had some; and a flame
// that did not hold from its first light on had not run dry.
func TestLastDropsAreNoFuel(t *testing.T) {
	const moment = 30 * time.Second
	for name, c := range map[string]struct {
		first, again, out time.Duration
		filled            bool
		want              outcome.Ending
	}{
		"filled":              {3 * time.Hour, moment, time.Hour, true, outcome.FuelOut},
		"out for the night":   {3 * time.Hour, moment, 7 * time.Hour, false, outcome.FuelOut},
		"went on":             {3 * time.Hour, time.Hour, time.Hour, true, outcome.Unexplained},
		"lit without filling": {3 * time.Hour, moment, time.Hour, false, outcome.Unexplained},
		"did not hold":        {moment, moment, time.Hour, true, outcome.Unexplained},
	} {
		p, node := tank(t)
		p.refuel()
		p.burn(9*time.Hour+48*time.Minute-c.first, node)
		p.out(2*time.Hour, node)
		p.burn(c.first, node)
		p.out(time.Minute, node)
		p.burn(c.again, node)
		p.out(c.out, node)
		if c.filled {
			p.refuel()
		}
		p.burn(3*time.Hour, node)
		if b := p.engine.Finish().Burns[1]; b.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", name, b.Ending, b.Evidence, c.want)
		}
	}
}

// The same by a gauge, of a tank that nobody wrote anything down of.
func TestLastDropsBesideAnEmptyGauge(t *testing.T) {
	p, node := tank(t)
	level := func(ratio float32) func(*reading.Sample) {
		return func(x *reading.Sample) { x.Has |= reading.Fuel; x.Fuel = ratio }
	}
	p.burnAs(time.Hour, node, level(0.1))
	p.burnAs(time.Hour, node, level(0.01))
	p.outAs(time.Minute, node, level(0))
	p.burnAs(30*time.Second, node, level(0))
	p.outAs(time.Hour, node, level(0))
	p.burnAs(3*time.Hour, node, level(0.9))
	p.outAs(time.Hour, node, level(0.6))
	for i, b := range p.engine.Finish().Burns[:2] {
		if b.Ending != outcome.FuelOut {
			t.Errorf("stop %d: %s %q", i+1, b.Ending, b.Evidence)
		}
	}
}

// A flame that came and went between two readings, which only the counter tells
// of, was one all the same: what went out before it did not stay out. Where the
// readings are as warm as the heater usually goes out, that it lit again so soon is
// all that tells.
func TestAFlameThatNoReadingCaught(t *testing.T) {
	k := newCycles(t, 1, &fleet.Thermostat{SetpointC: 12, DifferentialC: 2})
	burn := func() {
		k.run["n-0"] -= 13 // it lit between two readings
		k.pass(20*time.Minute, 11, 13, map[reading.NodeID]bool{"n-0": true})
	}
	for range 8 {
		burn()
		k.pass(20*time.Minute, 13, 11, nil)
	}
	burn()
	k.pass(30*time.Second, 13, 13, nil)
	k.run["n-0"] += 12
	k.pass(20*time.Minute, 13, 11, nil)
	burn()
	if b := k.all()[8]; b.Ending != outcome.Unexplained {
		t.Errorf("%s %q", b.Ending, b.Evidence)
	}
}
