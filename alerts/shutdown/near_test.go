package shutdown_test

import (
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
)

// A steady heater that goes out by less than half a degree below where it always
// does failed, though a person happened to light it where it usually lights. By
// a sensor that is noisy or coarse, or of few endings, that cannot be said.
func TestASteadyHeaterThatGoesOutALittleTooCold(t *testing.T) {
	o := shutdown.DefaultOptions()
	for _, c := range []struct {
		about string
		usual shutdown.Usual
		end   float32
		want  outcome.Ending
	}{
		{"below all of them", shutdown.Usual{N: 16, C: 14, Spread: 0.05, Step: 0.1}, 13.6, outcome.Unexplained},
		{"as near as they are", shutdown.Usual{N: 16, C: 14, Spread: 0.05, Step: 0.1}, 13.7, outcome.Satisfied},
		{"noisy", shutdown.Usual{N: 16, C: 14, Spread: 0.15, Step: 0.1}, 13.6, outcome.Satisfied},
		{"coarse", shutdown.Usual{N: 16, C: 14, Step: 0.5}, 13.5, outcome.Satisfied},
		{"all alike, to half a degree for all that is known", shutdown.Usual{N: 16, C: 14}, 13.5, outcome.Satisfied},
		{"few", shutdown.Usual{N: 7, C: 14, Spread: 0.05, Step: 0.1}, 13.6, outcome.Satisfied},
	} {
		e := ended()
		e.Usual, e.UsualOn = c.usual, shutdown.Usual{N: 16, C: 12, Spread: 0.05, Step: 0.1}
		e.Burn.TempEnd = c.end
		relit(&e, 30*time.Minute, 12)
		if got := shutdown.Classify(e, &o); got.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", c.about, got.Ending, got.Evidence, c.want)
		}
	}
}

func TestTheStepOfASensor(t *testing.T) {
	for name, c := range map[string]struct {
		ends []float32
		want float64
	}{
		"tenths":     {[]float32{14, 14.1, 14.1, 13.9}, 0.1},
		"halves":     {[]float32{14, 14.5, 14, 14.5}, 0.5},
		"not known":  {[]float32{14, 14, 14}, 0},
		"a failure":  {[]float32{14, 14, 10, 14}, 0},
		"no endings": {nil, 0},
	} {
		var h shutdown.Habit
		for _, end := range c.ends {
			h.Add(end)
		}
		if got := h.Usual().Step; got < c.want-1e-3 || got > c.want+1e-3 {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
