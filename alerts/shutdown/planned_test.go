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

// Hours off that begin or end at a time which clocks show twice do so at the
// first; at one that they never show, when they go forward.
func TestHoursOffOverClockChanges(t *testing.T) {
	for _, c := range []struct {
		zone, at   string // some time within them
		from, to   time.Duration
		began, end string
	}{
		{"Europe/Dublin", "2026-10-24T23:00:00Z", 22 * time.Hour, 90 * time.Minute, "2026-10-24T21:00:00Z", "2026-10-25T00:30:00Z"},
		{"Europe/Dublin", "2026-10-25T02:00:00Z", 90 * time.Minute, 5 * time.Hour, "2026-10-25T00:30:00Z", "2026-10-25T05:00:00Z"},
		{"Europe/Dublin", "2026-03-29T02:00:00Z", 90 * time.Minute, 5 * time.Hour, "2026-03-29T01:00:00Z", "2026-03-29T04:00:00Z"},
		{"America/St_Johns", "2026-03-08T05:15:00Z", 20 * time.Hour, 150 * time.Minute, "2026-03-07T23:30:00Z", "2026-03-08T05:30:00Z"},
		{"Australia/Lord_Howe", "2026-10-03T15:00:00Z", 20 * time.Hour, 135 * time.Minute, "2026-10-03T09:30:00Z", "2026-10-03T15:30:00Z"},
		{"America/Santiago", "2026-09-06T03:30:00Z", 20 * time.Hour, 24 * time.Hour, "2026-09-06T00:00:00Z", "2026-09-06T04:00:00Z"},
		{"America/Santiago", "2026-09-06T05:00:00Z", 0, 5 * time.Hour, "2026-09-06T04:00:00Z", "2026-09-06T08:00:00Z"},
		{"Africa/Cairo", "2026-04-23T21:30:00Z", 20 * time.Hour, 0, "2026-04-23T18:00:00Z", "2026-04-23T22:00:00Z"},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		at, _ := time.Parse(time.RFC3339, c.at)
		off := []fleet.OffHours{{Days: []time.Weekday{0, 1, 2, 3, 4, 5, 6}, From: c.from, To: c.to}}
		if got := shutdown.OffUntil(off, zone, reading.InstantOf(at)).String(); got != c.end {
			t.Errorf("%s, off from %v to %v: at %s until %s, want %s", c.zone, c.from, c.to, c.at, got, c.end)
		}
		began, _ := time.Parse(time.RFC3339, c.began)
		if got, _ := shutdown.NextOff(off, zone, reading.InstantOf(began)-1); got.String() != c.began {
			t.Errorf("%s, off from %v to %v: begins %s, want %s", c.zone, c.from, c.to, got, c.began)
		}
	}
}
