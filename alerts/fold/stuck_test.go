package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// A counter that stands still while the flame burns is told for as long as it
// does, and no longer once it counts again.
func TestAStuckCounterIsToldWhileItIsStuck(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	stuck := p.run["n-0"]
	p.burnAs(50*time.Hour, "n-0", func(x *reading.Sample) { x.Runtime = stuck })
	if !p.active(alarm.RuntimeJump) || p.count(alarm.RuntimeJump, alarm.Unacknowledged) != 1 {
		t.Errorf("stuck for two days: told %d times, stands %v; want once, and that it stands",
			p.count(alarm.RuntimeJump, alarm.Unacknowledged), p.active(alarm.RuntimeJump))
	}
	p.burn(26*time.Hour, "n-0")
	if p.active(alarm.RuntimeJump) {
		t.Error("it is told a day after the counter began to count again")
	}
}
