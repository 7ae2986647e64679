package trust

import (
	"math"
	"strings"
	"testing"
	"time"
)

// cycler lets a heater burn and rest beside a sensor that tells whole ppm, every
// minute.
type cycler struct {
	cell COSensor
	n    int
}

// cycle is half an hour of burn and half an hour out, at what the air reads in
// it.
func (c *cycler) cycle(ppm func(min int) float64) {
	for m := range 60 {
		c.n++
		c.cell.Apply(epoch.Add(time.Duration(c.n)*time.Minute), float32(math.Round(ppm(m))), m < 30)
	}
}

// swings is air that rises by so many ppm in a burn and falls again.
func swings(from, by float64) func(int) float64 {
	return func(m int) float64 { return from + by*(1-math.Abs(float64(m)-30)/30) }
}

func stands(at float64) func(int) float64 { return func(int) float64 { return at } }

// A sensor that rose with every burn and then stands still, through four of them,
// above what it falls to each time is stuck: that takes four hours here and took
// twelve.
func TestASensorThatFollowsNoBurnAnyMoreIsStuck(t *testing.T) {
	var c cycler
	for range 8 {
		c.cycle(swings(2, 8))
	}
	for i := range deafBurns + 1 {
		if why, is := c.cell.Suspect(); is || c.cell.Stuck() {
			t.Fatalf("after %d burns at 6 ppm: %q", i, why)
		}
		c.cycle(stands(6))
	}
	c.cycle(stands(6))
	why, is := c.cell.Suspect()
	if !is || !c.cell.Stuck() || !strings.Contains(why, "4 burns") {
		t.Errorf("after %d burns at 6 ppm: %v %q", deafBurns+2, is, why)
	}
	if c.cycle(swings(2, 8)); c.cell.Stuck() {
		t.Error("it moves and is stuck")
	}
}

// What air may do by itself is no stuck sensor, for so long.
func TestAirThatStandsIsNoStuckSensor(t *testing.T) {
	for name, x := range map[string]struct{ before, then func(int) float64 }{
		"reads nothing ever":                  {stands(0), stands(0)},
		"a door is opened":                    {swings(2, 8), stands(2)},
		"a door is opened, a lorry outside":   {swings(2, 8), stands(3)},
		"rose too little to tell":             {swings(4, 2), stands(6)},
		"stood still now and then all along":  {func(int) float64 { return 5 }, stands(6)},
		"it tells steps of 5 ppm, 5 or 10":    {func(m int) float64 { return 5 * math.Round(1+float64(m%30)/40) }, stands(10)},
		"it goes on, and rises by less":       {swings(2, 8), swings(2, 1)},
		"dead at zero, which may be good air": {swings(2, 8), stands(0)},
	} {
		var c cycler
		for range 8 {
			c.cycle(x.before)
		}
		for range 5 {
			c.cycle(x.then)
			if why, is := c.cell.Suspect(); is || c.cell.Stuck() {
				t.Fatalf("%s: %q", name, why)
			}
		}
	}
}

// A few short burns tell nothing beside long ones.
func TestShortBurnsNeedNotBeFollowed(t *testing.T) {
	var c cycler
	for range 8 {
		c.cycle(swings(2, 8))
	}
	for range 240 {
		c.n++
		c.cell.Apply(epoch.Add(time.Duration(c.n)*time.Minute), 6, c.n%20 < 3)
	}
	if why, is := c.cell.Suspect(); is {
		t.Errorf("12 burns of 3 min after 8 of 30: %q", why)
	}
	for range 6 {
		c.cycle(stands(6))
	}
	if _, is := c.cell.Suspect(); !is {
		t.Error("then six of 30 min: not stuck")
	}
}
