package fold_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// Of two sensors of one space that disagree for hours the lower one is told of, once.
func TestSensorsOfASpaceThatDiffer(t *testing.T) {
	for name, c := range map[string]struct{ low, quiet, high float32 }{
		"5 beside 37": {5, 15, 37}, "a fifth": {7.4, 15, 37}, "a zero it has shown before": {0, 15, 37}, "such a zero beside less": {0, 8, 19},
	} {
		p := newPlay(t, 2)
		p.air(10*time.Hour, 0, 0)
		for range 12 {
			p.air(time.Hour, c.low, c.quiet)
			p.air(time.Hour, c.low, c.high)
		}
		n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged)
		if n != 1 {
			t.Errorf("%s: told %d times, want once", name, n)
		}
		for _, a := range p.engine.View().Alarms {
			if got := strings.Join(a.Findings.Evidence, "; "); a.Kind == alarm.COSensorSuspect && (a.Heater != p.fleet.Heaters[0].ID || !strings.Contains(got, p.fleet.Heaters[1].ID)) {
				t.Errorf("%s: %s: %q", name, a.Heater, got)
			}
		}
	}
}

// Places in a plume, lags, zeros some ppm apart and noise are no disagreement.
func TestPlacesOfSensorsAreNoDifference(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 3))
		p := newPlay(t, 2)
		plume, off, air := 1+0.5*rng.Float64(), 4*rng.Float64()-2, 0.5+3*rng.Float64()
		emits, room, lagged := 10+50*rng.Float64(), 0.0, 0.0
		for i := range 2 * 24 * 60 {
			goal := 0.0
			if math.Mod(float64(i), 90) < 50 && i%(24*60) > 300 {
				goal = emits
			}
			room += (goal - room) * air / 60
			lagged += (room - lagged) / 6
			a := max(lagged+off+rng.NormFloat64(), 0)
			p.air(30*time.Second, float32(math.Round(a)), float32(math.Round(max(room*plume-off+rng.NormFloat64(), 0))))
			p.now = p.now.Add(30 * time.Second)
		}
		if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 0 {
			t.Errorf("seed %d: told %d times of a plume of %.2f, zeros %.1f ppm apart", seed, n, plume, 2*off)
		}
	}
}

// A sensor that was doubted for another reason is not compared by an average in
// which its silence counts for clean air.
func TestASensorThatComesBackIsNotBelow(t *testing.T) {
	p := newPlay(t, 2)
	p.air(10*time.Hour, 40, 42)
	for range 5 * 120 { // its unit goes on, and tells no CO
		p.now = p.now.Add(30 * time.Second)
		for i, h := range p.fleet.Heaters {
			x := p.sample(h.Node)
			x.Has &^= reading.Runtime
			if x.CO = 42; i == 0 {
				x.Has &^= reading.CO
			}
			p.send(h.Node, x)
		}
	}
	if !p.active(alarm.COSensorSuspect) {
		t.Fatal("a sensor that fell silent is not doubted")
	}
	for range 60 {
		p.air(time.Minute, 40, 42)
		p.air(time.Minute, 41, 42)
	}
	if p.active(alarm.COSensorSuspect) {
		t.Error("it is doubted yet, two hours after it came back")
	}
}

// What was told of a sensor stands while the other one is away.
func TestADifferenceStandsWhileTheOtherIsAway(t *testing.T) {
	p := newPlay(t, 2)
	for range 12 {
		p.air(time.Hour, 5, 30)
		p.air(time.Hour, 6, 40)
	}
	if !p.active(alarm.COSensorSuspect) {
		t.Fatal("not told")
	}
	for range 20 * 120 {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample(p.fleet.Heaters[0].Node)
		x.Has, x.CO = x.Has&^reading.Runtime, 5+float32(p.now%7)
		p.send(p.fleet.Heaters[0].Node, x)
	}
	if !p.active(alarm.COSensorSuspect) {
		t.Error("it ended by the other's silence")
	}
	for range 6 {
		p.air(time.Hour, 20, 21)
		p.air(time.Hour, 22, 21)
	}
	if p.active(alarm.COSensorSuspect) {
		t.Error("it stands though both agreed for twelve hours")
	}
}

// A good unit fitted in place of one that read too little is not blamed for what
// that one had measured.
func TestAUnitFittedForOneBelowIsNotBlamed(t *testing.T) {
	p := newPlay(t, 2)
	for range 6 {
		p.air(time.Hour, 5, 30)
		p.air(time.Hour, 6, 40)
	}
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
		t.Fatalf("told %d times, want once", n)
	}
	p.fitSpare()
	for i := range 10 * 120 {
		p.now = p.now.Add(30 * time.Second)
		for j, node := range []reading.NodeID{"spare", p.fleet.Heaters[1].Node} {
			x := p.sample(node)
			x.Has, x.CO = x.Has&^reading.Runtime, 35+float32((i/7+j)%5)
			p.send(node, x)
		}
	}
	if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 1 {
		t.Errorf("told %d times, want once: the unit that left", n)
	}
}
