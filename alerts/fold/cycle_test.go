package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// cycles reports every 30 s for a while, and gives the burns told meanwhile.
type cycles struct {
	*play
	told []outcome.Burn
}

func newCycles(t *testing.T, heaters int, thermostat *fleet.Thermostat) *cycles {
	p := newPlay(t, heaters)
	for i := range p.fleet.Heaters {
		p.fleet.Heaters[i].Thermostat, p.fleet.Heaters[i].TankL = thermostat, 0
	}
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	return &cycles{play: p}
}

// pass lets d pass: the space goes from one temperature to another, and the
// heaters of those nodes burn or not.
func (c *cycles) pass(d time.Duration, from, to float64, lit map[reading.NodeID]bool) {
	steps := int(d / (30 * time.Second))
	for i := range steps {
		c.now = c.now.Add(30 * time.Second)
		for n := range len(c.fleet.Heaters) {
			node := c.fleet.Heaters[n].Node
			if lit[node] {
				c.run[node] += 30
			}
			x := c.sample(node)
			x.Temp = float32(from + (to-from)*float64(i+1)/float64(steps))
			if !lit[node] {
				x.On &^= reading.Flame
			}
			l := record.Line{At: c.now, Pack: &reading.Pack{Node: node, Samples: []reading.Sample{x}}}
			c.told = append(c.told, c.engine.Step(l).Burns...)
		}
	}
}

func (c *cycles) all() []outcome.Burn { return append(c.told, c.engine.Finish().Burns...) }

// The first endings of a heater whose thermostat nobody named are told for good
// only once it can be known that it has one.
func TestTheFirstCyclesOfAThermostatThatNobodyNamed(t *testing.T) {
	c := newCycles(t, 1, nil)
	lit := map[reading.NodeID]bool{"n-0": true}
	for range 12 {
		c.pass(20*time.Minute, 10, 12, lit)
		c.pass(25*time.Minute, 12, 10, nil)
	}
	for i, b := range c.all() {
		if b.Ending != outcome.Satisfied {
			t.Errorf("ending %d is %s %q", i+1, b.Ending, b.Evidence)
		}
	}
}

// Two heaters of one air are satisfied in the same seconds; then the site's
// mains go, by which two others go out, and keep them off into the cold. They
// are no more of that event than one alone would be.
func TestTwoSatisfiedThatTheMainsThenKeptOff(t *testing.T) {
	c := newCycles(t, 4, nil)
	for i := range 2 {
		c.fleet.Heaters[i].Thermostat = &fleet.Thermostat{SetpointC: 13, DifferentialC: 2}
	}
	c.engine = fold.New(c.fleet, fold.DefaultRules())
	pair, others := map[reading.NodeID]bool{"n-0": true, "n-1": true}, map[reading.NodeID]bool{"n-2": true, "n-3": true}
	for range 8 {
		c.pass(14*time.Minute, 11, 13, pair)
		c.pass(20*time.Minute, 13, 11, others)
	}
	c.pass(14*time.Minute, 11, 13, pair)
	out := c.now
	c.pass(10*time.Minute, 13, 12, others)
	c.pass(60*time.Minute, 12, 6, nil)
	c.pass(40*time.Minute, 6, 13, pair)
	c.pass(10*time.Minute, 13, 12, nil)
	found := 0
	for _, b := range c.all() {
		if b.End.Sub(out).Abs() > time.Minute {
			continue
		}
		found++
		if b.Ending != outcome.Satisfied {
			t.Errorf("%s is %s %q", b.Heater, b.Ending, b.Evidence)
		}
	}
	if found != 2 {
		t.Errorf("%d burns ended then, want 2", found)
	}
}

// A heater whose flame fails again and again, and that its own control lights
// again a minute later, has no habit of its thermostat by that: nothing got
// colder meanwhile. One in a brisk tent that cools by its differential within
// that minute has.
func TestRetriesAreNoHabitOfTheThermostat(t *testing.T) {
	for _, c := range []struct {
		low  float64
		want outcome.Ending
	}{{12.4, outcome.Unexplained}, {11, outcome.Satisfied}} {
		k := newCycles(t, 1, &fleet.Thermostat{SetpointC: 13, DifferentialC: 2})
		for range 12 {
			k.pass(20*time.Minute, c.low, 12.6, map[reading.NodeID]bool{"n-0": true})
			k.pass(time.Minute, 12.6, c.low, nil)
		}
		for i, b := range k.all()[:11] { // of the last nobody knows yet what comes after
			if b.Ending != c.want {
				t.Errorf("lit again at %.1f °C, ending %d is %s %q", c.low, i+1, b.Ending, b.Evidence)
			}
		}
	}
}
