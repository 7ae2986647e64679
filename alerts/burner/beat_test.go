package burner_test

import (
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
)

// A unit looks every 30 s at a flame that burns all along, or breaks off; between
// two of its samples something happens. Only a clock put forward is no break.
func TestAClockPutRightBreaksNoBurn(t *testing.T) {
	for name, c := range map[string]struct {
		stamp, came, gain float64 // s from one sample to the next, s burned
		unknown           bool    // nobody knows when it came
		every             float64 // s by which samples before come apart otherwise, in turn
		burns             int     // that ended
	}{
		"nothing":                         {stamp: 30, came: 30, gain: 30},
		"the clock is put forward by 9 s": {stamp: 39, came: 30, gain: 30},
		"by 15 s":                         {stamp: 45, came: 30, gain: 30},
		"by 15 s, and the message takes 2 s more": {stamp: 45, came: 32, gain: 30},
		"by 20 s":         {stamp: 50, came: 30, gain: 30, burns: 1},
		"a break of 12 s": {stamp: 30, came: 30, gain: 18, burns: 1},
		"a break of 12 s in which the unit too stands still": {stamp: 42, came: 42, gain: 30, burns: 1},
		"the same, from its memory":                          {stamp: 42, came: 0, gain: 30, burns: 1},
		"the same, nobody knows when it came":                {stamp: 42, gain: 30, unknown: true, burns: 1},
		"put forward by 12 s, and a break of as much":        {stamp: 42, came: 30, gain: 18, burns: 1},
		"of a unit that looks when it likes":                 {stamp: 42, came: 30, gain: 30, every: 4, burns: 1},
	} {
		var s burner.State
		var b burner.Burn
		o := burner.DefaultOptions()
		ends, stamp, came, run := 0, 0.0, 0.2, 5003.0
		tell := func(ds, dc, dr float64) {
			stamp, came, run = stamp+ds, came+dc, run+dr
			arrived := at(came)
			if c.unknown {
				arrived = 0
			}
			x := reading.Sample{At: at(stamp), Has: reading.Flame | reading.Runtime, On: reading.Flame, Runtime: run}
			if s.Take(&x, arrived, 30*time.Second, t0, &o, &b) {
				ends++
			}
		}
		for i := range 12 {
			d := 30 + c.every*float64(i%2)
			tell(d, d, d)
		}
		tell(c.stamp, c.came, c.gain)
		for range 12 {
			tell(30, 30, 30)
		}
		if ends != c.burns {
			t.Errorf("%s: %d burns ended, want %d", name, ends, c.burns)
		}
	}
}
