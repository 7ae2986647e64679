package fold_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// Whoever is told that a counter and the flame differ reads why, where that is
// known.
func TestACounterOfTheFanIsToldAsOne(t *testing.T) {
	p := newPlay(t, 1)
	for range 4 {
		p.burn(20*time.Minute, "n-0")
		for i := range 40 {
			p.now = p.now.Add(30 * time.Second)
			x := p.sample("n-0")
			x.On &^= reading.Flame
			if i < 4 {
				p.run["n-0"] += 30
			}
			x.Runtime = p.run["n-0"]
			p.send("n-0", x)
		}
	}
	if n := p.count(alarm.RuntimeJump, alarm.Unacknowledged); n != 1 {
		t.Fatalf("told %d times, want once", n)
	}
	for _, a := range p.engine.View().Alarms {
		if a.Kind == alarm.RuntimeJump && !strings.Contains(a.Findings.Sure, "counts the fan") {
			t.Errorf("%q", a.Findings.Sure)
		}
	}
}
