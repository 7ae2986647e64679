package fold_test

import (
	"math"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// stands lets a node whose clock stands at an instant report for a while.
func (p *play) stands(d time.Duration, node reading.NodeID, at reading.Instant, ppm float32) {
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		p.run[node] += 30
		x := p.sample(node)
		x.At, x.CO = at, ppm
		p.send(node, x)
	}
}

// A unit whose clock stands goes on measuring: the ceiling calls somebody, half
// an hour after every stamp is too old for that, and the peak's hour is counted.
func TestAClockThatStands(t *testing.T) {
	p := newPlay(t, 1)
	node := p.fleet.Heaters[0].Node
	p.burn(20*time.Minute, node)
	at := p.now
	p.stands(30*time.Minute, node, at, 6)
	if n := p.count(alarm.NodeClock, alarm.Unacknowledged); n != 1 {
		t.Errorf("the clock was told %d times, want once", n)
	}
	p.stands(10*time.Minute, node, at, 300)
	p.stands(20*time.Minute, node, at, 6)
	if n := p.count(alarm.COCeiling, alarm.Unacknowledged); n != 1 {
		t.Errorf("300 ppm called somebody %d times, want once", n)
	}
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("the air was measured below the ceiling %d times, want once", n)
	}
	p.burn(30*time.Minute, node)
	if a := p.engine.View().Sites[0].Spaces[0].Air; math.Abs(a.TWA8hPPM-(300*10+6*100)/480.) > 1 {
		t.Errorf("8-hour average %.2f ppm, want about %.2f", a.TWA8hPPM, (300*10+6*100)/480.)
	}
	if p.active(alarm.NodeClock) {
		t.Error("the clock is right again, and called wrong")
	}
}

// The same pack again and again is no clock that stands, be it the last one or
// an older one.
func TestRepetitionIsNoClockThatStands(t *testing.T) {
	for _, back := range []int{1, 5} {
		p := newPlay(t, 1)
		node := p.fleet.Heaters[0].Node
		var all []reading.Sample
		for range 20 {
			p.now = p.now.Add(30 * time.Second)
			p.run[node] += 30
			all = append(all, p.sample(node))
			p.send(node, all[len(all)-1])
		}
		for range 40 {
			p.now = p.now.Add(30 * time.Second)
			p.send(node, all[len(all)-back])
		}
		if n := p.count(alarm.NodeClock, alarm.Unacknowledged); n != 0 {
			t.Errorf("the pack %d before the end, repeated: the clock was called wrong", back)
		}
		if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 1 {
			t.Errorf("the pack %d before the end, repeated: the unit was called silent %d times, want once", back, n)
		}
	}
}
