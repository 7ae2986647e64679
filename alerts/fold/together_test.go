package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// A stop is told; later a unit that was not heard tells that another heater
// went out with it. The first one is still out: it is told with the other from
// then on, and nobody hears that it is over.
func TestAStopThatTurnsOutToBeOfTheSiteIsNotOver(t *testing.T) {
	p := newPlay(t, 2)
	for i := range p.fleet.Heaters {
		p.fleet.Heaters[i].Thermostat, p.fleet.Heaters[i].TankL = nil, 0
	}
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.burn(time.Hour, "n-0", "n-1")
	var buffered []reading.Sample
	for range 18 {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample("n-0")
		x.On &^= reading.Flame
		p.send("n-0", x)
		x.Runtime = p.run["n-1"]
		buffered = append(buffered, x)
	}
	if p.count(alarm.ShutdownUnexplained, alarm.Unacknowledged) != 1 {
		t.Fatal("the stop was not told")
	}
	p.send("n-1", buffered...)
	for range 40 {
		p.out(30*time.Second, "n-0")
		p.now = p.now.Add(-30 * time.Second)
		p.out(30*time.Second, "n-1")
	}
	var last alarm.Transition
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.ShutdownUnexplained && s.Alarm.Heater == "H-0" {
			last = s
			if s.Event == alarm.Clear {
				t.Errorf("it is told to be %s: %s", s.To, s.Alarm.Text)
			}
		}
	}
	if last.To != alarm.Suppressed || !p.active(alarm.ShutdownUnexplained) {
		t.Errorf("in the end it is %s", last.To)
	}
	p.burn(20*time.Minute, "n-0", "n-1")
	if p.active(alarm.ShutdownUnexplained) {
		t.Error("both burn, and an alarm stands")
	}
}

// The mains of two heaters fail, and no unit can say so: it is as warm as
// the thermostat of one of them wants. Both are of one event.
func TestOneOfTwoThatWentOutTogetherIsWarm(t *testing.T) {
	p := newPlay(t, 2)
	for i := range p.fleet.Heaters {
		p.fleet.Heaters[i].Thermostat, p.fleet.Heaters[i].TankL = &fleet.Thermostat{SetpointC: 12 + 4*float64(i), DifferentialC: 2}, 0
	}
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	nodes := []reading.NodeID{"n-0", "n-1"}
	report := func(run float64, lit bool) {
		p.now = p.now.Add(31 * time.Second)
		for _, n := range nodes {
			p.run[n] += run
			x := p.sample(n)
			if !lit {
				x.On &^= reading.Flame
			}
			p.send(n, x)
		}
	}
	for range 100 {
		report(31, true)
	}
	report(12, false)
	for range 20 {
		report(0, false)
	}
	for _, b := range p.engine.Finish().Burns {
		if b.Ending != outcome.SiteWide {
			t.Errorf("%s is %s %q", b.Heater, b.Ending, b.Evidence)
		}
	}
}
