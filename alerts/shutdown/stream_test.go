package shutdown

import (
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
)

// streamed is a heater whose unit hangs in its warm stream: it reads 31.6 °C as
// a thermostat set to 12 °C is satisfied, and 12.1 °C as it asks again.
func streamed(end float32) Evidence {
	e := settled()
	e.Burn = burner.Burn{Seconds: 900, HasTemp: true, TempStart: 12, TempEnd: end, Gap: 30 * time.Second}
	e.Thermostat = &fleet.Thermostat{SetpointC: 12, DifferentialC: 3}
	e.Usual, e.UsualOn = Usual{N: 8, C: 31.6, Spread: 0.2}, Usual{N: 8, C: 12.1, Spread: 0.2}
	return e
}

// Such a unit reads degrees more or less from cycle to cycle. A flame that
// fails shows all the same.
func TestUnitInTheWarmStream(t *testing.T) {
	o := DefaultOptions()
	for _, c := range []struct {
		name string
		end  float32
		do   func(*Evidence)
		want outcome.Ending
	}{
		{"as usual", 31.6, func(e *Evidence) { e.lit(10*time.Minute, 0, 12.1) }, outcome.Satisfied},
		{"a shorter burn", 29.4, func(e *Evidence) { e.lit(10*time.Minute, 0, 12.1) }, outcome.Satisfied},
		{"a shorter time out", 31.6, func(e *Evidence) { e.lit(7*time.Minute, 0, 14.8) }, outcome.Satisfied},
		{"long before it was warm", 24, func(e *Evidence) { e.lit(10*time.Minute, 0, 12.1) }, outcome.Unexplained},
		{"relit at once", 31.6, func(e *Evidence) { e.lit(time.Minute, 0, 28) }, outcome.Unexplained},
		{"then cold", 31.6, func(e *Evidence) { e.Known, e.Lowest = time.Hour, 8 }, outcome.Unexplained},
	} {
		e := streamed(c.end)
		c.do(&e)
		if got := Classify(e, &o); got.Ending != c.want {
			t.Errorf("%s: %s %v, want %s", c.name, got.Ending, got.Evidence, c.want)
		}
	}
}
