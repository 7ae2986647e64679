package fold_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// collected sends n packs of ten minutes each: the temperature every minute,
// and CO at the minutes where it is not negative.
func (p *play) collected(n int, node reading.NodeID, co func(minute int) float32) {
	for range n {
		var xs []reading.Sample
		for m := range 10 {
			p.now = p.now.Add(time.Minute)
			x := p.sample(node)
			x.Has &^= reading.Runtime
			if x.CO = co(m); x.CO < 0 {
				x.Has &^= reading.CO
			}
			xs = append(xs, x)
		}
		p.send(node, xs...)
	}
}

// A unit may measure CO less often than all else, and send it before later
// readings: it counts, whatever another sensor of the space says.
func TestCOAtTheBeginningOfAPackCounts(t *testing.T) {
	p := newPlay(t, 2)
	a, b := p.fleet.Heaters[0].Node, p.fleet.Heaters[1].Node
	p.collected(10*6, a, func(m int) float32 {
		x := p.sample(b)
		x.Has &^= reading.Runtime
		p.send(b, x)
		return []float32{90, -1}[min(m, 1)]
	})
	if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 1 {
		t.Errorf("10 h of 90 ppm raised %d alarms of the shift, want 1", n)
	}
}

// A unit that collects its readings is not silent between two packs.
func TestNothingIsHeldBetweenPacks(t *testing.T) {
	p := newPlay(t, 1)
	node := p.fleet.Heaters[0].Node
	p.collected(6*8, node, func(m int) float32 {
		if m == 9 {
			return 160
		}
		return 19
	})
	if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 0 {
		t.Errorf("%d alarms of a shift of 33 ppm", n)
	}
}

// A sensor that reads what no air explains is no other that measures there.
func TestASensorBelowAnyAirIsNoOther(t *testing.T) {
	p := newPlay(t, 2)
	p.air(20*time.Minute, 60, -8)
	p.beside(10*time.Hour, -8)
	if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 1 {
		t.Errorf("10 h after 60 ppm, beside a sensor that reads -8: %d alarms of the shift, want 1", n)
	}
}

// What is held of a unit that died is over its limit once, not again and again:
// a sensor that stands at zero beside it is doubted, and clears nothing.
func TestADoubtedSensorClearsNothing(t *testing.T) {
	p := newPlay(t, 2)
	p.air(2*time.Hour, 60, 0)
	p.beside(10*time.Hour, 0)
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
		t.Fatalf("the sensor at zero was doubted %d times, want once", n)
	}
	if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 1 {
		t.Errorf("10 h after 60 ppm, beside a sensor at 0: the alarm of the shift rang %d times, want once", n)
	}
}

// A sensor that tells of the air every ten minutes measures all the time: what
// another one said last is held all the same, for that one stood elsewhere.
func TestAUnitThatDiedIsHeldBesideAnother(t *testing.T) {
	p := newPlay(t, 2)
	b := p.fleet.Heaters[1].Node
	p.collected(12, b, func(int) float32 { return 5 })
	p.air(20*time.Minute, 60, 5)
	p.collected(60, b, func(int) float32 { return 5 })
	if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 1 {
		t.Errorf("10 h after 60 ppm, beside a unit that reads 5: the alarm of the shift rang %d times, want once", n)
	}
	if n := p.count(alarm.COShift, alarm.Latched); n != 0 {
		t.Errorf("a unit elsewhere in the space ended it")
	}
	const want = "the last CO of one unit there, 60 ppm 4.3 h ago, is held, while another reads 5 ppm"
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.COShift && s.To == alarm.Unacknowledged && s.Alarm.Findings.Sure != want {
			t.Errorf("%q, want %q", s.Alarm.Findings.Sure, want)
		}
	}
	p.agree(alarm.COShift, 35)
}

// A unit that falls silent at a low figure, after hours of a high one, has an
// average that goes on rising while what was low before leaves the window.
func TestAnAverageThatRisesInASilence(t *testing.T) {
	p := newPlay(t, 1)
	level := func(ppm float32) func(*reading.Sample) { return func(x *reading.Sample) { x.CO = ppm } }
	p.burnAs(4*time.Hour, "n-0", level(1))
	p.burnAs(4*time.Hour, "n-0", level(64))
	p.burnAs(3*time.Minute, "n-0", level(9))
	p.wait(8 * time.Hour)
	p.agree(alarm.COShift, 35)
}

// Where a unit was put in place of one that had told of bad air, and tells no CO,
// nothing better was measured.
func TestABareUnitInItsPlaceMeasuresNothing(t *testing.T) {
	p := newPlay(t, 1)
	p.burnAs(time.Hour, "n-0", full(0.9, 60))
	p.now = p.now.Add(time.Second)
	p.fitSpare()
	p.burnAs(8*time.Hour, "spare", bare)
	p.agree(alarm.COShift, 35)
}

// agree wants the alarm of an average raised and the record above its limit.
func (p *play) agree(k alarm.Kind, limit float64) {
	p.t.Helper()
	n, most := p.count(k, alarm.Unacknowledged), 0.0
	for _, x := range p.engine.Finish().Exposures {
		most = max(most, x.TWA8hPPM)
	}
	if n != 1 || most < limit {
		p.t.Errorf("the record has an average of %.1f ppm, and %s was raised %d times", most, k, n)
	}
}

// The CO of a unit that a person took elsewhere says nothing of where it was.
func TestAUnitTakenOffHoldsNothing(t *testing.T) {
	p := newPlay(t, 3)
	p.fleet.Heaters[2].Space = ""
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.air(20*time.Minute, 60, 60)
	for _, h := range p.fleet.Heaters[:2] {
		p.step(record.Line{Entry: &record.Entry{Heater: "H-2", Task: "fit-node", Node: string(h.Node)}})
	}
	p.burn(10*time.Hour, p.fleet.Heaters[1].Node)
	if n := p.count(alarm.COShift, alarm.Unacknowledged); n != 0 {
		t.Errorf("%d alarms of a shift where no unit is any more", n)
	}
}

// Nor does it keep an alarm of there from ending by what is measured there.
func TestAUnitTakenOffKeepsNoAlarm(t *testing.T) {
	p := newPlay(t, 3)
	p.fleet.Heaters[2].Space = ""
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.air(2*time.Minute, 250, 3)
	for range 10 {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample("n-0")
		x.Has, x.Temp = reading.Temp, 2
		p.send("n-0", x)
	}
	p.step(record.Line{Entry: &record.Entry{Heater: "H-2", Task: "fit-node", Node: "n-0"}})
	p.beside(time.Hour, 3)
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("the alarm ended %d times by an hour of 3 ppm, want once", n)
	}
	if n := p.count(alarm.SpaceCold, alarm.Returned); n != 1 {
		t.Errorf("the cold ended %d times by an hour of 11 °C, want once", n)
	}
}

// beside lets the second node alone report for a while.
func (p *play) beside(d time.Duration, ppm float32) {
	node := p.fleet.Heaters[1].Node
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample(node)
		x.Has &^= reading.Runtime
		x.CO = ppm
		p.send(node, x)
	}
}

// A unit that a person took off did not fall silent.
func TestAUnitTakenOffIsNotMute(t *testing.T) {
	p := newPlay(t, 3)
	p.burn(time.Hour, "n-0", "n-1")
	p.step(record.Line{Entry: &record.Entry{Heater: "H-2", Task: "fit-node", Node: "n-1"}})
	for range 60 {
		p.now = p.now.Add(30 * time.Second)
		p.run["n-1"] += 30
		for _, n := range []reading.NodeID{"n-0", "n-1"} {
			x := p.sample(n)
			if n == "n-0" {
				x.On, x.Temp = 0, 4
			}
			p.send(n, x)
		}
	}
	a := p.engine.View().Alarms
	i := slices.IndexFunc(a, func(x alarm.Alarm) bool { return x.Kind == alarm.ShutdownUnexplained && x.Active })
	if i < 0 {
		t.Fatal("no stop was told")
	}
	if s := a[i].Findings.Evidence[0]; strings.Contains(s, "fell silent") {
		t.Errorf("%s: %s", a[i].Heater, s)
	}
}

// One reading below the limit and then silence end no ceiling: it latches once
// the air was measured below it again, five minutes later or more.
func TestSilenceAfterTheCeilingEndsNothing(t *testing.T) {
	p := newPlay(t, 2)
	p.air(2*time.Minute, 250, 250)
	p.air(30*time.Second, 150, 150)
	p.wait(20 * time.Minute)
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 0 {
		t.Fatal("silence ended the ceiling")
	}
	p.air(30*time.Second, 20, 20)
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("measured below the ceiling, it latched %d times, want once", n)
	}
}

// A sensor that reads below any air after 250 ppm has measured nothing better,
// and another one at 60 ppm, which it read all the time, ends no ceiling.
func TestASensorBelowAnyAirEndsNoCeiling(t *testing.T) {
	p := newPlay(t, 2)
	p.air(2*time.Minute, 250, 60)
	p.air(time.Hour, -40, 60)
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 0 {
		t.Fatal("a sensor that reads -40 ppm ended the ceiling")
	}
	if n := p.count(alarm.COCeiling, alarm.Unacknowledged); n != 1 {
		t.Errorf("the ceiling rang %d times, want once", n)
	}
	p.air(30*time.Minute, 20, 60)
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("measured below the ceiling, it latched %d times, want once", n)
	}
}

// What is held says how long ago it was measured, in hours where minutes would be
// many: 60 ppm are 35 in 8 h after 35·8/60 h, 20 min of which were measured.
func TestWhatIsHeldSaysHowOldItIs(t *testing.T) {
	p := newPlay(t, 2)
	p.air(20*time.Minute, 60, -8)
	p.beside(10*time.Hour, -8)
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.COShift && s.To == alarm.Unacknowledged && s.Alarm.Findings.Sure != "the last CO there, 60 ppm 4.3 h ago, is held" {
			t.Error(s.Alarm.Findings.Sure)
		}
	}
}

// Nor does it count in the exposure of there since: 20 min of 250 ppm and two
// hours of 3 ppm are 11.2 ppm in 8 h.
func TestAUnitTakenOffIsNoExposure(t *testing.T) {
	p := newPlay(t, 3)
	p.fleet.Heaters[2].Space = "space-1"
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.air(20*time.Minute, 250, 3)
	p.step(record.Line{Entry: &record.Entry{Heater: "H-2", Task: "fit-node", Node: "n-0"}})
	p.beside(2*time.Hour, 3)
	for _, x := range p.engine.Finish().Exposures {
		if x.Space == "space-0" && (x.TWA8hPPM < 10 || x.TWA8hPPM > 12) {
			t.Errorf("8-hour average %.1f ppm, want about 11", x.TWA8hPPM)
		}
	}
}
