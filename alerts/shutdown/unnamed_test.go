package shutdown_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
)

// A heater whose configuration names no thermostat, and that goes out and
// lights again at its own two temperatures, has one. What fails does not.
func TestAThermostatThatNobodyNamed(t *testing.T) {
	o := shutdown.DefaultOptions()
	for _, c := range []struct {
		about string
		given func(*shutdown.Evidence)
		want  outcome.Ending
	}{
		{"at the usual temperature", func(*shutdown.Evidence) {}, outcome.Satisfied},
		{"and lit again where it does", func(e *shutdown.Evidence) { relit(e, 30*time.Minute, 12) }, outcome.Satisfied},
		{"below it", func(e *shutdown.Evidence) { e.Burn.TempEnd = 13 }, outcome.Unexplained},
		{"and left the space in the cold", func(e *shutdown.Evidence) {
			e.Lowest, e.HasLowest, e.Known = 7, true, 2*time.Hour
		}, outcome.Unexplained},
		{"too few to tell", func(e *shutdown.Evidence) { e.UsualOn.N = 5 }, outcome.Unexplained},
		{"lit again at any temperature", func(e *shutdown.Evidence) { e.UsualOn = shutdown.Usual{N: 2, C: 9} }, outcome.Unexplained},
		{"lit again without a space that cooled", func(e *shutdown.Evidence) { e.UsualOn.C = 13.6 }, outcome.Unexplained},
	} {
		e := ended()
		e.Thermostat, e.UsualOn = nil, shutdown.Usual{N: 8, C: 12, Spread: 0.1}
		c.given(&e)
		got := shutdown.Classify(e, &o)
		said := strings.Contains(strings.Join(got.Evidence, "; "), "its configuration names none")
		if got.Ending != c.want || c.want == outcome.Satisfied && !said {
			t.Errorf("%s: %s %q, want %s", c.about, got.Ending, got.Evidence, c.want)
		}
	}
}
