package reading_test

import (
	"testing"

	"pgregory.net/rapid"

	"heaterd/ingest/reading"
)

func anySample(t *rapid.T, name string) reading.Sample {
	has := reading.Quantity(rapid.IntRange(0, 511).Draw(t, name+" has"))
	if has&reading.BatteryLevel != 0 {
		has &^= reading.BatteryVolts
	}
	f := func(q reading.Quantity) float64 {
		if has&q == 0 {
			return 0
		}
		return float64(rapid.IntRange(0, 3).Draw(t, name))
	}
	return reading.Sample{
		Has: has, On: has & reading.Quantity(rapid.IntRange(0, 511).Draw(t, name+" on")) & (reading.Flame | reading.Supply | reading.Call),
		Runtime: f(reading.Runtime), CO: float32(f(reading.CO)), Temp: float32(f(reading.Temp)),
		Fuel: float32(f(reading.Fuel)), Battery: float32(f(reading.BatteryLevel | reading.BatteryVolts)),
	}
}

func TestMergeForgetsOrderAndRepetition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := anySample(t, "a"), anySample(t, "b"), anySample(t, "c")
		if ab, ba := a.Merge(b), b.Merge(a); ab != ba {
			t.Fatalf("order shows: %+v, %+v", ab, ba)
		}
		if l, r := a.Merge(b).Merge(c), a.Merge(b.Merge(c)); l != r {
			t.Fatalf("grouping shows: %+v, %+v", l, r)
		}
		if m := a.Merge(b); m.Merge(b) != m || a.Merge(a) != a {
			t.Fatalf("repetition shows: %+v", m)
		}
	})
}

func TestMergeErrsToSafety(t *testing.T) {
	a := reading.Sample{Has: reading.CO | reading.Flame | reading.Supply, CO: 10, On: reading.Supply}
	b := reading.Sample{Has: reading.CO | reading.Flame | reading.Supply, CO: 40, On: reading.Flame}
	if m := a.Merge(b); m.CO != 40 || !m.Lit() || m.On&reading.Supply != 0 {
		t.Errorf("got %+v, want CO 40, lit, mains absent", m)
	}
}
