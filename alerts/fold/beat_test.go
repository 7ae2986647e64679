package fold_test

import (
	"testing"
	"time"

	"heaterd/ingest/reading"
)

// The clock of a unit is put forward by 12 s while its heater burns: that ends no
// burn, though the engine starts anew before and after.
func TestAUnitsClockIsPutRightWithinABurn(t *testing.T) {
	p := newPlay(t, 1)
	p.run["n-0"] = 5003
	off := -12 * time.Second
	behind := func(x *reading.Sample) { x.At = x.At.Add(off) }
	p.burnAs(10*time.Minute, "n-0", behind)
	p.restart()
	off = 0
	p.burnAs(time.Hour, "n-0", behind)
	p.restart()
	if n := p.engine.View().Heaters[0].Hours.Burns; n != 0 {
		t.Errorf("%d burns ended, want none", n)
	}
	if got := p.engine.Finish(); len(got.Burns) != 0 {
		t.Errorf("burns are told: %+v", got.Burns)
	}
}
