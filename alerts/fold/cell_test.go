package fold_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// air lets two nodes of one space report for a while, each its own CO.
func (p *play) air(d time.Duration, a, b float32) {
	nodes := []reading.NodeID{p.fleet.Heaters[0].Node, p.fleet.Heaters[1].Node}
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		for i, ppm := range []float32{a, b} {
			x := p.sample(nodes[i])
			x.Has &^= reading.Runtime
			x.CO = ppm
			p.send(nodes[i], x)
		}
	}
}

func TestASensorBlindBesideAnother(t *testing.T) {
	for name, zero := range map[string]float32{"0": 0, "2": 2} { // whole ppm, its zero off by two
		t.Run(name, func(t *testing.T) { blindBeside(t, name, zero) })
	}
}

func blindBeside(t *testing.T, name string, zero float32) {
	p := newPlay(t, 2)
	p.air(3*time.Hour, zero, 0)
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 0 {
		t.Fatalf("%d sensors suspect in clean air", n)
	}
	p.air(time.Minute, zero, 60)
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
		t.Fatalf("%d sensors suspect beside 60 ppm, want the one that reads zero", n)
	}
	last := p.said[len(p.said)-1].Alarm
	for _, a := range p.engine.View().Alarms {
		if a.Kind == alarm.COSensorSuspect {
			last = a
		}
	}
	if got := strings.Join(last.Findings.Evidence, "; "); last.Heater != p.fleet.Heaters[0].ID || !strings.Contains(got, "read exactly "+name+" ppm") {
		t.Errorf("%s: %q", last.Heater, got)
	}
	p.air(2*time.Hour, zero, 0)
	if n := p.count(alarm.COSensorSuspect, alarm.Returned); n != 0 {
		t.Error("better air cleared the doubt")
	}
	p.air(time.Hour, 4, 0)
	if n := p.count(alarm.COSensorSuspect, alarm.Returned); n != 1 {
		t.Error("it reads again, and is doubted still")
	}
}

// A sensor that reads what no air explains does not end an alarm of its space.
func TestTooLowClearsNothing(t *testing.T) {
	p := newPlay(t, 2)
	p.air(time.Minute, 250, 0)
	p.air(30*time.Minute, -8, -8)
	if n := p.count(alarm.COCeiling, alarm.Unacknowledged); n != 1 {
		t.Fatalf("%d alarms of 250 ppm", n)
	}
	for _, a := range p.engine.View().Alarms {
		if a.Kind == alarm.COCeiling && !a.Active {
			t.Errorf("%+v is over by readings of -8 ppm", a.Key)
		}
	}
}

// A unit that goes on without its CO is told, and what the air may have come
// to since is held against the limits: nobody there knows that it fell.
func TestCOThatVanishes(t *testing.T) {
	p := newPlay(t, 1)
	node := p.fleet.Heaters[0].Node
	for range 12 {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample(node)
		x.CO = 150
		p.send(node, x)
	}
	for range 6 * 120 {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample(node)
		x.Has &^= reading.CO | reading.Runtime
		p.send(node, x)
	}
	for _, k := range []alarm.Kind{alarm.COSensorSuspect, alarm.COShift} {
		if n := p.count(k, alarm.Unacknowledged); n != 1 {
			t.Errorf("%s was raised %d times, want once", k, n)
		}
		if n := p.count(k, alarm.Returned) + p.count(k, alarm.Latched); n != 0 {
			t.Errorf("%s ended by silence", k)
		}
	}
}

// A sensor that was last heard just under the ceiling keeps the alarm from
// ending, whatever another one of the space reads, and what the alarm says of
// the air is what the worst one says.
func TestASensorJustUnderTheCeilingEndsNothing(t *testing.T) {
	p := newPlay(t, 2)
	p.air(5*time.Minute, 230, 3)
	p.air(2*time.Minute, 198.5, 3)
	p.beside(20*time.Minute, 3)
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 0 {
		t.Errorf("the alarm ended %d times with a sensor last heard at 198.5 ppm", n)
	}
	p.air(20*time.Minute, 150, 3)
	for _, c := range p.said {
		if c.Alarm.Kind == alarm.COCeiling && c.To == alarm.Latched && c.Alarm.Value != 150 {
			t.Errorf("it ended at %g ppm, want 150", c.Alarm.Value)
		}
	}
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("the alarm ended %d times at 150 ppm, want once", n)
	}
}

// Doubt counts from the first reading that gives cause for it, not from when it
// was sure.
func TestDoubtSaysSinceWhen(t *testing.T) {
	for name, c := range map[string]struct {
		d    time.Duration
		a, b float32
	}{"below any air": {15 * time.Minute, -40, 5}, "blind": {2 * time.Hour, 0, 60}} {
		p := newPlay(t, 2)
		p.air(20*time.Minute, 30, 30)
		from := p.now
		p.air(c.d, c.a, c.b)
		n := 0
		for _, s := range p.said {
			if s.Alarm.Kind == alarm.COSensorSuspect && s.To == alarm.Unacknowledged {
				if n++; s.Alarm.Since.Sub(from) > time.Minute {
					t.Errorf("%s: since %s, want %s", name, s.Alarm.Since, from)
				}
			}
		}
		if n != 1 {
			t.Errorf("%s: doubted %d times, want once", name, n)
		}
	}
}

// A sensor whose zero lies too low reads low enough to tell each time its heater is
// out, and not while it burns: people are told once, until its zero has held for
// hours or its check is written down.
func TestAZeroThatLiesTooLowIsToldOnce(t *testing.T) {
	for _, checked := range []bool{false, true} {
		p := newPlay(t, 1)
		ppm := func(ppm float32) func(*reading.Sample) { return func(x *reading.Sample) { x.CO = ppm } }
		for range 6 {
			p.burnAs(15*time.Minute, "n-0", ppm(-5))
			p.burnAs(45*time.Minute, "n-0", ppm(-1))
		}
		written := p.now
		quiet := 7 * time.Hour
		if checked {
			p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "co-sensor-check"}})
			quiet = 15 * time.Minute
		}
		p.burnAs(quiet, "n-0", func(x *reading.Sample) { x.CO = float32(x.At / 60_000_000 % 2) })
		if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
			t.Errorf("checked %v: doubted %d times, want once", checked, n)
		}
		if n := p.count(alarm.COSensorSuspect, alarm.Returned); n != 1 {
			t.Errorf("checked %v: the doubt ended %d times, want once", checked, n)
		}
		if !checked {
			continue
		}
		p.withdraw("co-sensor-check", written)
		p.burnAs(5*time.Minute, "n-0", ppm(0))
		if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 2 {
			t.Errorf("without the check doubted %d times, want twice", n)
		}
	}
}
