package fold_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// Of two sensors of one space that disagree for hours the lower one is told of, once.
func TestSensorsOfASpaceThatDiffer(t *testing.T) {
	for name, c := range map[string]struct{ low, quiet, high float32 }{
		"5 beside 37": {5, 15, 37}, "a fifth": {7.4, 15, 37}, "a zero it has shown before": {0, 15, 37}, "such a zero beside less": {0, 8, 19},
	} {
		p := newPlay(t, 2)
		p.air(10*time.Hour, 0, 0)
		for range 12 {
			p.air(time.Hour, c.low, c.quiet)
			p.air(time.Hour, c.low, c.high)
		}
		n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged)
		if n != 1 {
			t.Errorf("%s: told %d times, want once", name, n)
		}
		for _, a := range p.engine.View().Alarms {
			if got := strings.Join(a.Findings.Evidence, "; "); a.Kind == alarm.COSensorSuspect && (a.Heater != p.fleet.Heaters[0].ID || !strings.Contains(got, p.fleet.Heaters[1].ID)) {
				t.Errorf("%s: %s: %q", name, a.Heater, got)
			}
		}
	}
}

// Places in a plume, lags, zeros some ppm apart and noise are no disagreement.
func TestPlacesOfSensorsAreNoDifference(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 3))
		p := newPlay(t, 2)
		plume, off, air := 1+0.5*rng.Float64(), 4*rng.Float64()-2, 0.5+3*rng.Float64()
		emits, room, lagged := 10+50*rng.Float64(), 0.0, 0.0
		for i := range 2 * 24 * 60 {
			goal := 0.0
			if math.Mod(float64(i), 90) < 50 && i%(24*60) > 300 {
				goal = emits
			}
			room += (goal - room) * air / 60
			lagged += (room - lagged) / 6
			a := max(lagged+off+rng.NormFloat64(), 0)
			p.air(30*time.Second, float32(math.Round(a)), float32(math.Round(max(room*plume-off+rng.NormFloat64(), 0))))
			p.now = p.now.Add(30 * time.Second)
		}
		if n := p.count(alarm.COSensorSuspect, alarm.Unacknowledged); n != 0 {
			t.Errorf("seed %d: told %d times of a plume of %.2f, zeros %.1f ppm apart", seed, n, plume, 2*off)
		}
	}
}
