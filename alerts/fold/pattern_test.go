package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// failing is a heater whose stops neither fuel nor a thermostat can explain.
func failing(t *testing.T) *play {
	p := newPlay(t, 1)
	p.fleet.Heaters[0].Thermostat, p.fleet.Heaters[0].TankL = nil, 0
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	return p
}

// sputter goes out three times within hours, then burns three times too short
// to hold.
func (p *play) sputter() {
	for range 3 {
		p.burn(time.Hour, "n-0")
		p.out(40*time.Minute, "n-0")
	}
	for range 3 {
		p.burn(90*time.Second, "n-0")
		p.out(8*time.Minute, "n-0")
	}
}

// A flame that holds again ends the pattern, though no burn has ended since.
func TestAFlameThatHoldsAgain(t *testing.T) {
	p := failing(t)
	p.sputter()
	if !p.active(alarm.FlameNotHolding) || !p.active(alarm.ShutdownsRepeating) {
		t.Fatalf("not holding: %v, repeating: %v", p.active(alarm.FlameNotHolding), p.active(alarm.ShutdownsRepeating))
	}
	p.burn(2*time.Hour, "n-0")
	if p.active(alarm.FlameNotHolding) || !p.active(alarm.ShutdownsRepeating) {
		t.Errorf("2 h on, not holding: %v, repeating: %v", p.active(alarm.FlameNotHolding), p.active(alarm.ShutdownsRepeating))
	}
	p.burn(23*time.Hour, "n-0")
	if p.active(alarm.ShutdownsRepeating) {
		t.Error("after a day of flame it still goes out again and again")
	}
}

// A heater that stays out, or falls silent, holds no better; until somebody
// wrote down that it was seen to.
func TestAHeaterThatStaysOutHoldsNoBetter(t *testing.T) {
	for name, rest := range map[string]func(p *play){
		"out":    func(p *play) { p.out(26*time.Hour, "n-0") },
		"silent": func(p *play) { p.wait(26 * time.Hour) },
	} {
		t.Run(name, func(t *testing.T) {
			p := failing(t)
			p.sputter()
			rest(p)
			if !p.active(alarm.FlameNotHolding) {
				t.Error("it ended by itself")
			}
			p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "fuel-filter"}})
			rest(p)
			for _, k := range []alarm.Kind{alarm.FlameNotHolding, alarm.ShutdownsRepeating, alarm.ShutdownUnexplained} {
				if p.active(k) {
					t.Errorf("%s outlives the visit", k)
				}
			}
		})
	}
}

// Late readings that split the last burn make no more stops of one.
func TestAStopIsCountedOnce(t *testing.T) {
	p := failing(t)
	p.burn(time.Hour, "n-0")
	split := p.sample("n-0") // overtaken below
	p.burn(5*time.Minute, "n-0")
	p.out(4*time.Minute, "n-0")
	for i := range 3 {
		late := split
		late.At = split.At.Add(time.Duration(i*30+10) * time.Second)
		late.Has, late.On = reading.Flame, 0
		p.send("n-0", late)
		p.out(time.Minute, "n-0")
	}
	if p.active(alarm.ShutdownsRepeating) || p.active(alarm.FlameNotHolding) {
		t.Error("one stop is told as several")
	}
}

// A look-over that finds something dangerous is no look-over: it is due until
// one finds nothing.
func TestAFailedLookOverIsDue(t *testing.T) {
	p := newPlay(t, 1)
	state := func() service.State {
		for _, s := range p.engine.View().Heaters[0].Standings {
			if s.Task == service.LookOverTask {
				return s.State
			}
		}
		return ""
	}
	p.burn(time.Hour, "n-0")
	for _, c := range []struct {
		found string
		want  service.State
	}{{"", service.OK}, {"fuel", service.OK}, {"fuel, leaks", service.Due}, {"leaks", service.Due}, {"", service.OK}} {
		p.write(record.Entry{Task: service.LookOverTask, Found: c.found}, 0)
		p.burn(time.Hour, "n-0")
		if got := state(); got != c.want || p.active(alarm.ServiceDue) != (c.want == service.Due) {
			t.Errorf("found %q: the look-over is %s, told %v, want %s", c.found, got, p.active(alarm.ServiceDue), c.want)
		}
	}
}
