package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// skewed are readings whose stamps are off from an instant on.
func skewed(all []sent, from, by time.Duration) []sent {
	out := make([]sent, len(all))
	for i, s := range all {
		if s.x.At.Sub(benchStart) >= from {
			s.x.At = s.x.At.Add(by)
		}
		out[i] = s
	}
	return out
}

// Once a clock is known to be wrong, what it had stamped meanwhile is put where
// it belongs: it burned when it came, and not hours before.
func TestWhatAWrongClockHadStampedIsMoved(t *testing.T) {
	all := cycling(4 * time.Hour)
	want, _, hours := told(t, all, false)
	for _, c := range []struct{ from, by time.Duration }{
		{0, -24 * time.Hour}, {0, -5 * time.Hour}, {0, -4 * time.Minute}, {0, 4 * time.Minute}, {2 * time.Hour, 6 * time.Minute},
	} {
		wrong := skewed(all, c.from, c.by)
		got, changes, still := told(t, wrong, false)
		if _, ok := first(changes, alarm.NodeClock); !ok {
			t.Errorf("%v from %v on: not told", c.by, c.from)
		}
		if len(got) != len(want) {
			t.Errorf("%v from %v on: %d burns, want %d", c.by, c.from, len(got), len(want))
		}
		for i := range min(len(got), len(want)) {
			if off := got[i].End.Sub(want[i].End).Abs(); off > time.Minute || got[i].Ending != want[i].Ending {
				t.Errorf("%v from %v on: burn %d ends %s at %v, want %s at %v", c.by, c.from, i, got[i].Ending, got[i].End, want[i].Ending, want[i].End)
			}
		}
		if d := still.High - hours.High; d > 0.02 || d < -0.02 {
			t.Errorf("%v from %v on: hours %+v, want %+v", c.by, c.from, still, hours)
		}
		if _, again, hours := told(t, wrong, true); written(t, again, hours) != written(t, changes, still) {
			t.Errorf("%v from %v on: otherwise after a start", c.by, c.from)
		}
	}
}
