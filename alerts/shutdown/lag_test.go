package shutdown

import (
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// A burn that began in the cold warms the space faster than others, and the
// sensor is behind: it catches up after the end.
func TestASensorThatLags(t *testing.T) {
	o := DefaultOptions()
	for _, c := range []struct {
		name string
		do   func(*Evidence)
		want outcome.Ending
	}{
		{"out a moment ago", func(*Evidence) {}, outcome.Satisfied},
		{"lit again as usual", func(e *Evidence) { e.lit(10*time.Minute, 0, 12) }, outcome.Satisfied},
		{"its call fell", func(e *Evidence) { e.UsualOn.C = 13.7; e.callFalls() }, outcome.Satisfied},
		{"much colder", func(e *Evidence) { e.Burn.TempEnd = 11.4 }, outcome.Unexplained},
		{"it began as warm as ever", func(e *Evidence) { e.Burn.TempStart = 12 }, outcome.Unexplained},
		{"it was shorter than others", func(e *Evidence) { e.Burn.Seconds = 600 }, outcome.Unexplained},
		{"it then stayed out", func(e *Evidence) { e.Known, e.Lowest = time.Hour, 8 }, outcome.Unexplained},
	} {
		e := settled()
		e.Burn.Seconds, e.Burn.TempStart, e.Burn.TempEnd, e.Lowest = 950, 2, 13, 13
		c.do(&e)
		if v := Classify(e, &o); v.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", c.name, v.Ending, v.Evidence, c.want)
		}
	}
}

func (e *Evidence) callFalls() {
	e.Burn.EndLow, e.Burn.CallFell = 1_000_000, 1_000_000
	e.Burn.Before = burner.Around{Has: reading.Call, On: reading.Call}
	e.Burn.After = burner.Around{Has: reading.Call}
}

// What was as cold as it went out, and warmed on, did not get cold for want of
// a flame.
func TestColdestAsItWentOut(t *testing.T) {
	o := DefaultOptions()
	e := settled()
	e.Burn.Seconds, e.Burn.TempStart, e.Burn.TempEnd = 950, -3, 11.3
	e.UsualOn.C, e.Usual.C, e.Thermostat.SetpointC = 12.1, 12.8, 12.8
	e.lit(10*time.Minute, 0, 11.3)
	e.Relight = 12
	if v := Classify(e, &o); v.Ending != outcome.Satisfied {
		t.Errorf("lit again at %.1f °C: %s %q", e.Relight, v.Ending, v.Evidence)
	}
	e.Lowest = 10.9
	if v := Classify(e, &o); v.Ending != outcome.Unexplained {
		t.Errorf("it got down to %.1f °C: %s %q", e.Lowest, v.Ending, v.Evidence)
	}
}
