package config

import (
	"net/mail"
	"regexp"
	"slices"
	"time"

	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
)

// What a space's figures can be. The ends of the ranges catch a wrong unit or
// a slipped comma; common practice, no source.
var (
	volumeRange  = span{1, 1_000_000, "m³"}
	protectRange = span{-40, 80, "°C"}
)

func readSites(v value) []fleet.Site {
	var sites []fleet.Site
	ids := names{}
	for _, item := range v.some("sites", "at least one site") {
		sites = append(sites, readSite(item.table(), ids))
	}
	return sites
}

func readSite(t *table, ids names) fleet.Site {
	id := t.need("id", idAllowed)
	s := fleet.Site{ID: id.id()}
	ids.claim(id, "site id", s.ID)
	s.Name = t.get("name").line(s.ID)
	s.Zone = t.get("time_zone").zone(time.UTC)
	s.Limits = readLimits(t.get("limits"))
	s.Activity = exposure.Activity(t.get("activity").oneOf(string(exposure.Heavy),
		string(exposure.Rest), string(exposure.Light), string(exposure.Heavy)))
	s.Procedure = t.get("procedure").text("")
	for _, c := range t.get("contacts").list("contacts, each {name, phone, email}") {
		s.Contacts = append(s.Contacts, readContact(c.table()))
	}
	s.Spaces = readSpaces(t.get("spaces"))
	for _, off := range t.get("planned_off").list("stretches, each {days, from, to}") {
		s.PlannedOff = append(s.PlannedOff, readOff(off.table()))
	}
	warnSite(t)
	t.close()
	return s
}

func warnSite(t *table) {
	if !t.given() {
		return
	}
	if !t.has("time_zone") {
		t.get("time_zone").warn("an IANA time zone name", "left out: dates and planned hours are read in UTC")
	}
	if !t.has("procedure") {
		t.get("procedure").warn("what the site wants done when heat or air is in doubt",
			"left out: alarms that concern people can only say that there is a procedure")
	}
}

func readContact(t *table) fleet.Contact {
	c := fleet.Contact{
		Name:  t.need("name", "a name").line(""),
		Phone: t.get("phone").line(""),
		Email: t.get("email").line(""),
	}
	warnContact(t, c)
	t.close()
	return c
}

// phoneShape is what people write of a number that can be dialled.
var phoneShape = regexp.MustCompile(`^\+?[0-9 ()./-]+((ext\.?|x) ?[0-9]+)?$`)

// warnContact doubts what nobody can be told by. A gateway finds it out only
// when there is an alarm.
func warnContact(t *table, c fleet.Contact) {
	if c.Phone != "" && !phoneShape.MatchString(c.Phone) {
		t.get("phone").warn(`digits, as in "+353 1 555 0100"`, "%q cannot be dialled", clip(c.Phone))
	}
	if _, err := mail.ParseAddress(c.Email); c.Email != "" && err != nil {
		t.get("email").warn("an e-mail address", "%q is none", clip(c.Email))
	}
}

func readSpaces(v value) []fleet.Space {
	var spaces []fleet.Space
	ids := names{}
	for _, item := range v.list("spaces") {
		t := item.table()
		id := t.need("id", idAllowed)
		s := fleet.Space{ID: id.id()}
		ids.claim(id, "space id within its site", s.ID)
		s.Name = t.get("name").line(s.ID)
		s.VolumeM3 = t.get("volume_m3").number(0, volumeRange)
		s.ProtectAboveC = t.get("protect_above_c").optional(protectRange)
		s.ProtectBelowC = t.get("protect_below_c").optional(protectRange)
		if lo, hi := s.ProtectAboveC, s.ProtectBelowC; lo != nil && hi != nil && *lo >= *hi {
			t.get("protect_below_c").fail("more than protect_above_c", "%s °C is not above protect_above_c, %s °C",
				plainNumber(*hi), plainNumber(*lo))
		}
		t.close()
		spaces = append(spaces, s)
	}
	return spaces
}

func readOff(t *table) fleet.OffHours {
	days := t.need("days", "a list of mon, tue, wed, thu, fri, sat, sun")
	o := fleet.OffHours{Days: days.weekdays()}
	o.From = t.need("from", `a time of day such as "18:00"`).clock(0)
	o.To = t.need("to", `a time of day such as "05:00"`).clock(0)
	t.close()
	return o
}

var dayNames = []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

func (v value) weekdays() []time.Weekday {
	var days []time.Weekday
	once := names{}
	for _, item := range v.some("mon, tue, wed, thu, fri, sat, sun", "at least one day") {
		word := item.oneOf("", dayNames...)
		once.claim(item, "day", word)
		if i := slices.Index(dayNames, word); i >= 0 {
			days = append(days, time.Weekday(i))
		}
	}
	return days
}
