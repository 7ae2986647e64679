package notify_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
	"heaterd/ingest/reading"
)

// Whatever the settings, as long as the fallback can be reached: whoever a
// step means, somebody is told by it, what is urgent when the step is due, and
// anything else after at most a day.
func TestSomebodyIsAlwaysTold(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySettings(r)
		kind := rapid.SampledFrom(alarm.Kinds()).Draw(r, "kind")
		priority := rapid.SampledFrom(alarm.Priorities()[:3]).Draw(r, "priority")
		at := six.Add(time.Duration(rapid.IntRange(0, 365*24*60).Draw(r, "minute")) * time.Minute)
		who := rapid.SampledFrom([]string{"", "mo", "jo", "al", "nobody known"})
		d := duty{who.Draw(r, "on"), who.Draw(r, "next")}
		told := map[int]bool{}
		for _, j := range notify.New(s, yard(), d).Plan(raise(kind, priority, at)) {
			m, err := notify.ReadMessage(j.Body)
			if err != nil || m.Kind != notify.Raised || m.Person == "" {
				continue
			}
			told[j.Step] = true
			if j.Step >= len(s.Steps) {
				continue // the site's contacts
			}
			due := reading.InstantOf(at).Add(s.Steps[j.Step].After)
			if kind == alarm.COCeiling && priority == alarm.Critical && j.Step == 0 {
				due = reading.InstantOf(at)
			}
			late := j.NextAttempt.Sub(due)
			if m.Urgent() && late > 0 || late > 24*time.Hour {
				r.Fatalf("step %d is due at %s and told at %s", j.Step, due, j.NextAttempt)
			}
			if len([]rune(m.Short)) > 160 || strings.ContainsAny(m.Subject, "\r\n") {
				r.Fatalf("short %q, subject %q", m.Short, m.Subject)
			}
		}
		for i := range s.Steps {
			if !told[i] {
				r.Fatalf("step %d (%+v) told nobody; duty %+v", i, s.Steps[i], d)
			}
		}
	})
}

func anySettings(r *rapid.T) notify.Settings {
	s := crew()
	words := rapid.SampledFrom([]string{"on-call", "next", "everyone", "mo", "jo"})
	s.Steps = nil
	after := time.Duration(0)
	for range rapid.IntRange(1, 5).Draw(r, "steps") {
		s.Steps = append(s.Steps, notify.Step{After: after, Who: words.Draw(r, "who")})
		after += time.Duration(rapid.IntRange(0, 60).Draw(r, "minutes")) * time.Minute
	}
	clock := rapid.IntRange(0, 23)
	for i := range s.People {
		from, to := clock.Draw(r, "from"), clock.Draw(r, "to")
		if from != to {
			s.People[i].Quiet = &notify.Window{From: time.Duration(from) * time.Hour, To: time.Duration(to) * time.Hour}
		}
	}
	return s
}
