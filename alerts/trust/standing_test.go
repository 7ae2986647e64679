package trust

import (
	"testing"
	"time"
)

// stander lets a sensor read one value for a while beside a flame that comes and
// goes, and counts how often people are told that it is stuck.
type stander struct {
	cell  COSensor
	n     int
	stuck bool
	told  int
}

func (s *stander) stand(d time.Duration, ppm float32) {
	for range int(d / time.Minute) {
		s.n++
		s.cell.Apply(epoch.Add(time.Duration(s.n)*time.Minute), ppm, s.n%60 < 30)
		_, now := s.cell.Suspect()
		if now && !s.stuck {
			s.told++
		}
		s.stuck = now
	}
}

// A sensor that tells whole ppm and reads 2 in clean air stands at it all night.
func TestAnOffsetThatStandsIsNoStuckSensor(t *testing.T) {
	for _, ppm := range []float32{2, 5, -2} {
		var s stander
		for range 14 {
			s.stand(10*time.Hour, ppm)
			s.stand(5*time.Minute, ppm+1)
		}
		if s.told != 0 {
			t.Errorf("%g ppm, ten hours at a time: told %d times", ppm, s.told)
		}
	}
}

// One that stood for longer and moved by itself is told once, and not again each
// time; one that never moves again is.
func TestASensorThatMovedIsWaitedFor(t *testing.T) {
	var s stander
	for range 5 {
		s.stand(14*time.Hour, 2)
		s.stand(5*time.Minute, 3)
	}
	if s.told != 1 {
		t.Errorf("14 hours at a time: told %d times, want once", s.told)
	}
	s.stand(standsMost+time.Minute, 2)
	if s.told != 2 {
		t.Errorf("then for days: told %d times, want once more", s.told)
	}
}

// What offset explains no value of is told as before, and what is doubted is
// doubted as early as before.
func TestAFreezeIsToldAsSoonAsAirDoesNotExplainIt(t *testing.T) {
	for _, c := range []struct {
		ppm  float32
		told time.Duration
	}{{2.3, stuckVaried}, {11, stuckVaried}, {2, standsLeast}} {
		var s stander
		s.stand(time.Hour, c.ppm+1)
		s.stand(stuckVaried+time.Minute, c.ppm)
		if !s.cell.Stuck() {
			t.Errorf("%g ppm counts as measured after %s", c.ppm, stuckVaried)
		}
		if early := c.told == stuckVaried; s.stuck != early {
			t.Errorf("%g ppm after %s: told: %v", c.ppm, stuckVaried, s.stuck)
		}
		s.stand(c.told-stuckVaried, c.ppm)
		if !s.stuck {
			t.Errorf("%g ppm after %s: not told", c.ppm, c.told)
		}
	}
}
