package config

import (
	"slices"
	"strings"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/notify"
)

const (
	defaultDigest   = 7 * time.Hour // 07:00; common practice, no source
	defaultHandOver = 8 * time.Hour // 08:00; common practice, no source
	maxAfter        = 24 * time.Hour
)

func readOnCall(v value, sites []fleet.Site, s *notify.Settings) {
	t := v.table()
	s.Digest = t.get("digest_at").clock(defaultDigest)
	zone := t.get("time_zone").zone(firstZone(sites))
	s.Rota.Zone = zone
	s.People = readPeople(t.need("people", "a list of at least one person"), zone, s.Channels)
	readTurns(t, s)
	s.Rota.Overrides = readOverrides(t.get("overrides"), zone, s.People)
	s.Rota.Holidays = readHolidays(t.get("holidays"), zone, s.People)
	s.Steps = readSteps(t.get("steps"), s, sites)
	s.Fallback = t.need("fallback", "the id of the person told when nobody else is").person(s.People)
	t.close()
	switch {
	case t.given():
		checkSomeone(t, s)
	case len(s.Channels) > 0:
		v.warn("on_call with people and fallback", "left out: the channels of notify have nobody to tell")
	}
	if !t.given() {
		s.Steps = nil
	}
}

func firstZone(sites []fleet.Site) *time.Location {
	if len(sites) > 0 {
		return sites[0].Zone
	}
	return time.UTC
}

// checkSomeone reports a rota whose steps lead to nobody.
func checkSomeone(t *table, s *notify.Settings) {
	duty := len(s.Rota.Turns) > 0 || s.Rota.Calendar != ""
	reaches := func(step notify.Step) bool {
		return step.Who == "everyone" && len(s.People) > 0 || isPerson(s.People, step.Who) ||
			duty && (step.Who == "on-call" || step.Who == "next")
	}
	if t.has("people") && !t.has("turns") && !t.has("calendar") && !slices.ContainsFunc(s.Steps, reaches) {
		t.fail("turns, a calendar, or a step that tells a person or everyone", "nobody is on call: no step leads to a person")
		return
	}
	uses := func(word string) bool {
		return slices.ContainsFunc(s.Steps, func(st notify.Step) bool { return st.Who == word })
	}
	if !t.has("turns") && !t.has("calendar") && uses("on-call") {
		t.warn("turns or a calendar", "nobody is ever on call: those steps go to the fallback")
	}
	if t.has("steps") && len(s.Rota.Turns) == 1 && uses("next") {
		t.get("turns").warn("two people or more", "one person takes every turn, so next is nobody else")
	}
}

func readTurns(t *table, s *notify.Settings) {
	turns := t.get("turns").table()
	order := turns.need("order", "ids of people, a week each")
	for _, item := range order.some("ids of people", "at least one person") {
		if id := item.person(s.People); id != "" {
			s.Rota.Turns = append(s.Rota.Turns, id)
		}
	}
	s.Rota.Begins = turns.need("begins", "the date of the first turn, YYYY-MM-DD").date()
	s.Rota.HandOver = turns.get("hand_over").clock(defaultHandOver)
	turns.close()
	s.Rota.Calendar = t.get("calendar").calendar()
	if t.has("turns") && t.has("calendar") {
		t.get("calendar").fail("turns or calendar", "turns say who is on call already")
	}
}

// calendar gives the absolute path or the URL of an iCalendar file.
func (v value) calendar() string {
	s := v.expanded()
	switch {
	case s == "":
		return ""
	case strings.Contains(s, "://"):
		return v.address("https", "http")
	}
	return v.r.absolute(s)
}

func readOverrides(v value, zone *time.Location, people []notify.Person) []notify.Override {
	var overrides []notify.Override
	for _, item := range v.list("overrides, each {person, from, to, reason}") {
		t := item.table()
		person, from, to := readStretch(t, zone, people)
		t.get("reason").line("") // for whoever reads the file
		t.close()
		overrides = append(overrides, notify.Override{Person: person, From: from, To: to})
	}
	return overrides
}

func readHolidays(v value, zone *time.Location, people []notify.Person) []notify.Holiday {
	var holidays []notify.Holiday
	for _, item := range v.list("holidays, each {person, from, to}") {
		t := item.table()
		person, from, to := readStretch(t, zone, people)
		t.close()
		holidays = append(holidays, notify.Holiday{Person: person, From: from, To: to})
	}
	return holidays
}

func readStretch(t *table, zone *time.Location, people []notify.Person) (person string, from, to time.Time) {
	person = t.need("person", "the id of a person").person(people)
	from = t.need("from", "when it begins").instant(zone)
	to = t.need("to", "when it ends").instant(zone)
	if !from.IsZero() && !to.IsZero() && !from.Before(to) {
		t.get("to").fail("a time after from", "ends before it begins")
	}
	return person, from, to
}
