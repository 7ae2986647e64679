package shutdown_test

import (
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

func TestEndedByStop(t *testing.T) {
	slack := 10 * time.Minute
	from, to := noon.Add(-5*time.Minute), noon.Add(2*time.Hour)
	tests := map[string]struct {
		start, end time.Duration // from noon
		want       bool
	}{
		"lit when it began":        {-40 * time.Minute, 0, true},
		"a little before":          {-40 * time.Minute, -14 * time.Minute, true},
		"long before":              {-40 * time.Minute, -16 * time.Minute, false},
		"lit again in it":          {30 * time.Minute, 40 * time.Minute, false},
		"after it":                 {-40 * time.Minute, 121 * time.Minute, false},
		"lit as it was to be over": {118 * time.Minute, 119 * time.Minute, false},
	}
	for name, c := range tests {
		b := burner.Burn{Start: noon.Add(c.start), End: noon.Add(c.end)}
		if got := shutdown.EndedByStop(from, to, b, slack); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
	daily := []fleet.OffHours{{Days: []time.Weekday{time.Monday}, From: 12 * time.Hour, To: 18 * time.Hour}}
	lit := burner.Burn{Start: noon.Add(-time.Hour), End: noon.Add(3 * time.Minute)}
	again := burner.Burn{Start: noon.Add(time.Hour), End: noon.Add(2 * time.Hour)}
	if !shutdown.EndedByHours(daily, time.UTC, lit, slack) || shutdown.EndedByHours(daily, time.UTC, again, slack) {
		t.Error("hours off do not end the burn they begin in, or end one begun in them")
	}
}

// Whoever switches a heater off by its thermostat ends its call for heat as
// well: the stop that was written down counts where it then got colder than the
// thermostat allows, and the thermostat where it lit again as it always does.
func TestAPlannedStopThatEndsTheCall(t *testing.T) {
	o := shutdown.DefaultOptions()
	for _, c := range []struct {
		about string
		given func(*shutdown.Evidence)
		want  outcome.Ending
	}{
		{"it got cold", func(e *shutdown.Evidence) { relit(e, 2*time.Hour, 7) }, outcome.Planned},
		{"it cycled on", func(e *shutdown.Evidence) { relit(e, 30*time.Minute, 12) }, outcome.Satisfied},
		{"it asked in vain", func(e *shutdown.Evidence) {
			relit(e, time.Hour, 12)
			e.Vain, e.VainAfter = 30*time.Minute, 30*time.Minute
		}, outcome.Planned},
	} {
		e := ended()
		e.UsualOn = shutdown.Usual{N: 8, C: 12, Spread: 0.1}
		e.PlannedStop, e.PlannedLead = true, -30*time.Second
		said(&e, reading.Call, true, false)
		e.Burn.CallFell = e.Burn.End
		c.given(&e)
		if got := shutdown.Classify(e, &o); got.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", c.about, got.Ending, got.Evidence, c.want)
		}
	}
}
