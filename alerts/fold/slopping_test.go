package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// The level of a tank that shakes swings far about the truth: the alarm comes
// once, and neither early nor again with each swing.
func TestASloppingTankIsToldOnce(t *testing.T) {
	p := failing(t)
	swings := []float32{0, 0.09, -0.04, 0.02, -0.09, 0.06, -0.07, 0.03}
	i := 0
	slop := func(level float32) func(x *reading.Sample) {
		return func(x *reading.Sample) {
			x.Has |= reading.Fuel
			x.Fuel = level + swings[i/4%len(swings)] // four readings long
			i++
		}
	}
	p.burnAs(2*time.Hour, "n-0", slop(0.2))
	if p.active(alarm.FuelLow) {
		t.Error("a fifth of the tank is told as low")
	}
	p.burnAs(2*time.Hour, "n-0", slop(0.1))
	told := 0
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.FuelLow {
			told++
		}
	}
	if told != 1 || !p.active(alarm.FuelLow) {
		t.Errorf("a tenth of the tank: %d changes of its alarm, want the one that raises it", told)
	}
	p.burnAs(10*time.Minute, "n-0", slop(0.9))
	if p.active(alarm.FuelLow) {
		t.Error("a filled tank is told as low")
	}
}
