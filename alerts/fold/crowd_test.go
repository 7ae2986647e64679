//go:build unix

package fold_test

import (
	"testing"

	"heaterd/alerts/fold"
)

// TestCrowdAsksLittle counts what a reading allocates where many heaters stand
// together: each time that an ending asks of others what they ask of others shows
// there, and costs the cube of how many they are. BenchmarkFoldCrowded has the time.
func TestCrowdAsksLittle(t *testing.T) {
	const heaters, cycle = 300, 80 // readings of the feed's cycle
	const most = 6                 // allocations: it takes two, and took 24 as neighbours asked neighbours
	f := crowdedFleet(heaters, heaters, heaters)
	engine, d := fold.New(f, fold.DefaultRules()), newFeed(f)
	for range 200 * heaters { // past the first burns and the lateness window
		engine.Step(d.next())
	}
	each := testing.AllocsPerRun(1, func() {
		for range cycle * heaters {
			engine.Step(d.next())
		}
	}) / (cycle * heaters)
	t.Logf("%.1f allocations a reading", each)
	if each > most {
		t.Errorf("%.1f allocations a reading, want at most %d", each, most)
	}
}
