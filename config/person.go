package config

import (
	"net/mail"
	"regexp"
	"slices"
	"time"

	"heaterd/alerts/notify"
)

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
