package config

import (
	"net/mail"
	"regexp"
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

func isPerson(people []notify.Person, id string) bool {
	return id != "" && slices.ContainsFunc(people, func(p notify.Person) bool { return p.ID == id })
}

// person gives the id of someone listed under people.
func (v value) person(people []notify.Person) string {
	id := v.id()
	if id == "" {
		return ""
	}
	if !isPerson(people, id) {
		v.unknown("person", id, idsOf(people, personID))
		return ""
	}
	return id
}

func personID(p notify.Person) string { return p.ID }

func channelID(c notify.Channel) string { return c.ID }

// channels gives the ids of channels listed under notify.
func (v value) channels(channels []notify.Channel) []string {
	known := idsOf(channels, channelID)
	var ids []string
	for _, item := range v.some("channel ids", "at least one channel id") {
		id := item.id()
		switch {
		case id == "":
		case !slices.Contains(known, id):
			item.unknown("channel in notify.channels", id, known)
		default:
			ids = append(ids, id)
		}
	}
	return ids
}

func readPeople(v value, zone *time.Location, channels []notify.Channel) []notify.Person {
	var people []notify.Person
	ids := names{}
	for _, item := range v.some("people", "at least one person") {
		t := item.table()
		p := readPerson(t, zone, channels)
		ids.claim(t.get("id"), "person id", p.ID)
		if slices.Contains(stepWords, p.ID) {
			t.get("id").fail("another id", "%q already means something in steps", p.ID)
		}
		people = append(people, p)
	}
	return people
}

var languageShape = regexp.MustCompile(`^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$`)

func readPerson(t *table, zone *time.Location, channels []notify.Channel) notify.Person {
	p := notify.Person{
		ID:       t.need("id", idAllowed).id(),
		Channels: t.need("channels", "ids from notify.channels, first choice first").channels(channels),
		Address:  t.get("address").expanded(),
		Language: t.get("language").line("en"),
		Zone:     t.get("time_zone").zone(zone),
	}
	p.Name = t.get("name").line(p.ID)
	if !languageShape.MatchString(p.Language) {
		t.get("language").fail("a language tag such as en or de-AT", "found %q", clip(p.Language))
	} else if !notify.Speaks(p.Language) {
		t.get("language").warn("en", "there are no texts in %s; English ones are sent", clip(p.Language))
	}
	p.Addresses = readAddresses(t.get("addresses"), channels)
	p.Quiet = readQuiet(t.get("quiet").table())
	checkAddress(t, p, channels)
	t.close()
	return p
}

// checkAddress reports a person whose channel does not know where to send.
func checkAddress(t *table, p notify.Person, channels []notify.Channel) {
	for _, c := range channels {
		if !slices.Contains(p.Channels, c.ID) || c.Kind != notify.Mail {
			continue
		}
		if len(c.To) == 0 && p.Address == "" && p.Addresses[c.ID] == "" && !t.has("address") {
			t.get("address").fail("an e-mail address", "missing: channel %s sends to the person's own", c.ID)
		}
		if _, err := mail.ParseAddress(p.AddressOn(c.ID)); p.AddressOn(c.ID) != "" && err != nil {
			t.get("address").warn("an e-mail address, here or for that channel under addresses", "channel %s cannot send there", c.ID)
		}
	}
}

func readQuiet(t *table) *notify.Window {
	w := &notify.Window{
		From: t.need("from", `a time of day such as "22:00"`).clock(0),
		To:   t.need("to", `a time of day such as "06:00"`).clock(0),
	}
	t.close()
	if !t.given() {
		return nil
	}
	if t.has("from") && t.has("to") && w.From == w.To {
		t.fail("two different times", "quiet hours that begin and end at one time")
	}
	return w
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

// readAddresses gives a person's own address on single channels.
func readAddresses(v value, channels []notify.Channel) map[string]string {
	var addresses map[string]string
	known := idsOf(channels, channelID)
	for _, item := range v.list("addresses, each {channel, address}") {
		t := item.table()
		at := t.need("channel", "a channel id from notify.channels")
		id := at.id()
		if id != "" && !slices.Contains(known, id) {
			at.unknown("channel in notify.channels", id, known)
		}
		address := t.need("address", "where that channel sends").expanded()
		t.close()
		if addresses == nil {
			addresses = map[string]string{}
		}
		addresses[id] = address
	}
	return addresses
}

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
