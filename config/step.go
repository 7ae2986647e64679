package config

import (
	"slices"
	"strings"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/notify"
)

// defaultSteps tell whoever is on call, then the next in turn, then everyone
// (common practice, no source).
func defaultSteps() []notify.Step {
	return []notify.Step{
		{After: 0, Who: "on-call"},
		{After: 10 * time.Minute, Who: "next"},
		{After: 20 * time.Minute, Who: "everyone"},
	}
}

// stepWords are whom a step can tell besides a person by id.
var stepWords = []string{"on-call", "next", "everyone", "site"}

func readSteps(v value, s *notify.Settings, sites []fleet.Site) []notify.Step {
	items := v.some("steps, each {after, tell, via}", "at least one step, or the key left out")
	if !v.given() {
		return defaultSteps()
	}
	var steps []notify.Step
	for _, item := range items {
		t := item.table()
		before := len(v.r.problems)
		step := readStep(t, s)
		if n := len(steps); n > 0 && len(v.r.problems) == before && step.After < steps[n-1].After {
			t.get("after").fail("steps in order of time", "%s comes before the step above it, %s", short(step.After), short(steps[n-1].After))
		}
		if step.Who == "site" {
			warnNoContacts(t.get("tell"), sites)
		}
		steps = append(steps, step)
	}
	if len(steps) > 0 && steps[0].After > 0 {
		items[0].warn("after: 0s in the first step", "nobody is told for %s", short(steps[0].After))
	}
	return steps
}

func readStep(t *table, s *notify.Settings) notify.Step {
	step := notify.Step{
		After: t.get("after").duration(0, 0, maxAfter),
		Via:   t.get("via").channels(s.Channels),
	}
	tell := t.need("tell", strings.Join(stepWords, ", ")+", or the id of a person")
	if word := tell.id(); word != "" && !slices.Contains(stepWords, word) {
		step.Who = tell.whom(word, s.People)
	} else {
		step.Who = word
	}
	t.close()
	return step
}

func (v value) whom(word string, people []notify.Person) string {
	if isPerson(people, word) {
		return word
	}
	v.unknown("person or word", word, append(slices.Clone(stepWords), idsOf(people, personID)...))
	return ""
}

func warnNoContacts(v value, sites []fleet.Site) {
	for _, site := range sites {
		if !slices.ContainsFunc(site.Contacts, func(c fleet.Contact) bool { return c.Email != "" || c.Phone != "" }) {
			v.warn("contacts with an e-mail address or phone", "site %s has nobody to tell", site.ID)
		}
	}
}
