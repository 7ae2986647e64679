package fold_test

import (
	"math"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// twoRooms has two heaters that share nothing.
func twoRooms(t *testing.T) *play {
	p := newPlay(t, 2)
	p.fleet.Heaters[1].Space = "space-1"
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	return p
}

// keep lets a node measure for a while and send none of it, while n-1 goes on.
func (p *play) keep(d time.Duration, node reading.NodeID, ppm float32) []reading.Sample {
	var all []reading.Sample
	for range int(d / (30 * time.Second)) {
		p.burn(30*time.Second, "n-1")
		p.run[node] += 30
		x := p.sample(node)
		x.CO = ppm
		all = append(all, x)
	}
	return all
}

// empty sends what a node kept, in packs.
func (p *play) empty(node reading.NodeID, all []reading.Sample) {
	for len(all) > 0 {
		n := min(len(all), 37)
		p.now = p.now.Add(time.Second)
		p.send(node, all[:n]...)
		all = all[n:]
	}
}

func (p *play) fitTo(heater string, node reading.NodeID) {
	p.step(record.Line{Entry: &record.Entry{Heater: heater, Task: "fit-node", Node: string(node)}})
}

// A unit that could not send is taken to another heater, and sends there what
// it kept: those hours and that air are where it was then.
func TestWhatAUnitKeptIsOfWhereItWas(t *testing.T) {
	moves := map[string]func(p *play){
		"fitted":       func(p *play) { p.fitTo("H-1", "n-0") },
		"after spare":  func(p *play) { p.fitTo("H-0", "spare"); p.fitTo("H-1", "n-0") },
		"and restart":  func(p *play) { p.fitTo("H-1", "n-0"); p.restart() },
		"by a way":     func(p *play) { p.fitTo("H-0", "spare"); p.burn(time.Minute, "n-1"); p.restart(); p.fitTo("H-1", "n-0") },
		"taken off":    func(p *play) { p.fitTo("H-0", "spare") },
		"and replaced": func(p *play) { p.fitTo("H-1", "n-0"); p.fitTo("H-1", "n-1") },
		"configured": func(p *play) {
			p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters[0].Node, f.Heaters[1].Node = "", "n-0" })
		},
	}
	for name, move := range moves {
		t.Run(name, func(t *testing.T) {
			p := twoRooms(t)
			p.burn(time.Hour, "n-0", "n-1")
			kept := p.keep(3*time.Hour, "n-0", 90)
			p.wait(time.Second)
			move(p)
			live := p.engine.View().Heaters[1].Node == "n-0"
			if live {
				p.burn(time.Hour, "n-0")
			}
			p.empty("n-0", kept)
			p.restart()
			p.wait(20 * time.Minute)
			want := 4.0
			if live {
				want = 5
			}
			if a, b := p.hours(0), p.hours(1); math.Abs(a-4) > 0.02 || math.Abs(b-want) > 0.02 {
				t.Errorf("hours %.3f and %.3f, want 4 and %v", a, b, want)
			}
			v := p.engine.View().Sites[0]
			if a, b := v.Spaces[0].Air.Peak, v.Spaces[1].Air.Peak; a != 90 || b != 6 {
				t.Errorf("peaks of %v and %v ppm, want 90 and 6", a, b)
			}
		})
	}
}

// What was measured on a heater that left the configuration is of no other.
func TestWhatAUnitKeptOfAHeaterThatLeft(t *testing.T) {
	p := twoRooms(t)
	p.burn(time.Hour, "n-0", "n-1")
	kept := p.keep(3*time.Hour, "n-0", 250)
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) {
		f.Heaters = f.Heaters[1:]
		f.Heaters[0].Node = "n-0"
	})
	p.burn(time.Hour, "n-0")
	p.empty("n-0", kept)
	p.wait(20 * time.Minute)
	if h := p.hours(0); math.Abs(h-5) > 0.02 || p.active(alarm.COCeiling) {
		t.Errorf("%.3f h, want 5; ceiling %v, want none", h, p.active(alarm.COCeiling))
	}
}

// A clock that is known to be slow on one heater is as slow on the next: the
// first ceiling there is of now.
func TestAClockGoesWithItsUnit(t *testing.T) {
	for name, before := range map[string]func(p *play){
		"moved":       func(*play) {},
		"after spare": func(p *play) { p.fitTo("H-0", "spare"); p.restart() },
	} {
		t.Run(name, func(t *testing.T) {
			p := twoRooms(t)
			slow := func(x *reading.Sample) { x.At = x.At.Add(-25 * time.Minute) }
			p.burnAs(time.Hour, "n-0", slow)
			before(p)
			p.fitTo("H-1", "n-0")
			p.burnAs(time.Minute, "n-0", func(x *reading.Sample) { slow(x); x.CO = 250 })
			for _, s := range p.said {
				if s.Alarm.Kind == alarm.COCeiling {
					if late := p.now.Sub(s.Alarm.Since); late > time.Minute {
						t.Errorf("the ceiling counts from %v ago", late)
					}
					return
				}
			}
			t.Error("no ceiling")
		})
	}
}
