package shutdown

import (
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
)

// settled is a heater that goes out at 14 °C, lights again at 12.1 °C ten
// minutes later, and has just done the first.
func settled() Evidence {
	e := Evidence{
		Burn:       burner.Burn{Seconds: 900, HasTemp: true, TempStart: 12, TempEnd: 14, Gap: 30 * time.Second},
		Thermostat: &fleet.Thermostat{SetpointC: 14, DifferentialC: 2},
		Usual:      Usual{N: 8, C: 14, Spread: 0.1}, UsualOn: Usual{N: 8, C: 12.1, Spread: 0.1},
		HasLowest: true,
	}
	for range paceKept {
		e.Pace.Lit.Add(900)
		e.Pace.Out.Add(600)
	}
	e.Pace.Fall = 0.003
	return e
}

// lit says that it lit again so long after the end, colder than it usually
// gets since chilled.
func (e *Evidence) lit(after, chilled time.Duration, lowest float32) {
	e.Relit, e.RelitAfter, e.Known, e.ChilledAfter = true, after, after, chilled
	e.Lowest, e.Relight, e.LowestAge = lowest, lowest, e.Burn.Gap
}

// A door makes a heater light sooner, and colder. One that was asked to light
// and did not gets as cold, and lights later.
func TestColderThanUsual(t *testing.T) {
	o := DefaultOptions()
	for _, c := range []struct {
		name string
		do   func(*Evidence)
		want outcome.Ending
	}{
		{"as usual", func(e *Evidence) { e.lit(10*time.Minute, 0, 12) }, outcome.Satisfied},
		{"a door stood open", func(e *Evidence) { e.lit(8*time.Minute, 7*time.Minute, 10.4) }, outcome.Satisfied},
		{"in time, but minutes after it was cold", func(e *Evidence) { e.lit(10*time.Minute, 5*time.Minute, 11) }, outcome.Unexplained},
		{"late", func(e *Evidence) { e.lit(20*time.Minute, 0, 11) }, outcome.Unexplained},
		{"late, and last read long before", func(e *Evidence) {
			e.lit(2*time.Hour, 17*time.Minute, 10)
			e.LowestAge = time.Hour
		}, outcome.Unexplained},
		{"readings too far apart, as usual", func(e *Evidence) {
			e.Burn.Gap = 6 * time.Minute
			e.lit(12*time.Minute, 9*time.Minute, 11)
		}, outcome.Satisfied},
		{"readings too far apart, long in the cold", func(e *Evidence) {
			e.Burn.Gap = 6 * time.Minute
			e.lit(20*time.Minute, 9*time.Minute, 9)
		}, outcome.Unexplained},
		{"the same where it was as cold when it went out", func(e *Evidence) {
			e.Burn.Gap = 6 * time.Minute
			e.lit(20*time.Minute, time.Minute, 9)
		}, outcome.Satisfied},
	} {
		e := settled()
		c.do(&e)
		if v := Classify(e, &o); v.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", c.name, v.Ending, v.Evidence, c.want)
		}
	}
}
