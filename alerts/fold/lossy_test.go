package fold_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// Twenty days of a node that reports every two minutes over a way that loses one
// pack in twelve are no silence; when it falls silent then, that is told.
func TestANodeWhosePacksAreLostIsNotSilent(t *testing.T) {
	p, r := newPlay(t, 1), rand.New(rand.NewPCG(3, 4))
	p.send("n-0", p.sample("n-0"))
	for range 20 * 720 {
		for range 4 {
			p.wait(30 * time.Second)
		}
		p.run["n-0"] += 120
		if r.Float64() >= 1.0/12 {
			p.send("n-0", p.sample("n-0"))
		}
	}
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 0 {
		t.Errorf("told silent %d times", n)
	}
	p.wait(13 * time.Minute)
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 1 {
		t.Errorf("silent for good: told %d times, want once", n)
	}
}
