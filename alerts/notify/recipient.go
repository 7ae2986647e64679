package notify

import (
	"slices"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
)

// recipient is somebody to be told, and how.
type recipient struct {
	id, name, language string
	zone               *time.Location
	quiet              *Window
	answers            bool // may acknowledge by link
	ways               []Choice
}

// who lists whom a step tells. Whoever is on call is asked of the rota for
// the time of the step; who comes next is counted from when the alarm
// changed, so that a hand-over in between skips nobody.
func (p *Planner) who(s Step, t alarm.Transition) []recipient {
	at := t.At.Time()
	switch s.Who {
	case "on-call":
		return p.onDuty(s, t, at.Add(s.After), Duty.OnCall)
	case "next":
		return p.onDuty(s, t, at, Duty.Next)
	case "everyone":
		var all []recipient
		for _, person := range p.settings.People {
			all = append(all, p.recipient(person, s.Via, t))
		}
		return all
	case "site":
		return p.contacts(s, t)
	default:
		return p.person(s.Who, s.Via, t)
	}
}

// onDuty asks the rota, and falls back where it has nobody, somebody unknown,
// or somebody whom nothing reaches.
func (p *Planner) onDuty(s Step, t alarm.Transition, at time.Time, ask func(Duty, time.Time) (string, bool)) []recipient {
	if d := *p.duty.Load(); d != nil {
		if id, ok := ask(d, at); ok {
			if found := p.person(id, s.Via, t); len(found) > 0 && len(found[0].ways) > 0 {
				return found
			}
		}
	}
	return p.person(p.settings.Fallback, s.Via, t)
}

func (p *Planner) person(id string, via []string, t alarm.Transition) []recipient {
	if person, ok := p.settings.person(id); ok {
		return []recipient{p.recipient(person, via, t)}
	}
	return nil
}

func (p *Planner) recipient(person Person, via []string, t alarm.Transition) recipient {
	r := recipient{
		id: person.ID, name: person.Name, language: person.Language,
		zone: person.Zone, quiet: person.Quiet, answers: true,
	}
	if len(via) == 0 {
		via = person.Channels
	}
	for _, id := range via {
		if c, ok := p.channel(id); ok && c.Kind != MQTT {
			r.ways = append(r.ways, Choice{id, person.AddressOn(id)})
		}
	}
	r.ways = working(r.ways, t)
	return r
}

// AddressOn is where a channel sends to the person; empty where the channel
// sends to whoever listens.
func (p Person) AddressOn(channel string) string {
	if a, ok := p.Addresses[channel]; ok {
		return a
	}
	return p.Address
}

// working leaves out the channel whose failure is what is to be told, as
// long as another remains.
func working(ways []Choice, t alarm.Transition) []Choice {
	var out []Choice
	for _, c := range ways {
		if t.Alarm.Kind != alarm.ChannelDown || c.Channel != t.Alarm.Detail {
			out = append(out, c)
		}
	}
	if len(out) == 0 {
		return ways
	}
	return out
}

func (p *Planner) channel(id string) (Channel, bool) {
	for _, c := range p.settings.Channels {
		if c.ID == id {
			return c, true
		}
	}
	return Channel{}, false
}

// contactPrefix begins the id of a site's contact; no person's id holds a colon.
const contactPrefix = "site:"

// contacts are the people and offices of the alarm's site. They cannot
// acknowledge: that is for those who look after the heaters.
func (p *Planner) contacts(s Step, t alarm.Transition) []recipient {
	site := p.siteOf(t.Alarm)
	if site == nil {
		return nil
	}
	var all []recipient
	for _, c := range site.Contacts {
		if ways := p.settings.WaysTo(c, s.Via); len(ways) > 0 {
			all = append(all, recipient{id: contactPrefix + c.Name, name: c.Name, zone: site.Zone, ways: ways})
		}
	}
	return all
}

// WaysTo finds how a contact of a site is told: by the first mail
// channel for the e-mail address and the first text channel that asks for a
// number for the phone.
func (s Settings) WaysTo(c fleet.Contact, via []string) []Choice {
	var ways []Choice
	find := func(address, kind string, fits func(Channel) bool) {
		for _, ch := range s.Channels {
			if address != "" && ch.Kind == kind && (len(via) == 0 || slices.Contains(via, ch.ID)) && fits(ch) {
				ways = append(ways, Choice{ch.ID, address})
				return
			}
		}
	}
	find(c.Email, Mail, func(Channel) bool { return true })
	find(c.Phone, Text, addressed)
	return ways
}

// addressed reports whether a text channel asks for somebody's number.
func addressed(c Channel) bool { return strings.Contains(c.Template, ".Address") }
