package notify

import (
	"slices"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify/answerlink"
	"heaterd/alerts/wording"
)

// write puts a change of an alarm into words for somebody.
func (p *Planner) write(t alarm.Transition, kind MessageKind, r recipient, c way) Message {
	said := t.Outcome()
	m := Message{
		Kind: kind, At: t.At, Channel: c.Channel, Else: c.instead,
		Person: r.id, Name: r.name, Address: c.Address, Language: r.language,
		Priority: t.Alarm.Priority, Alarm: &said, Link: p.alarmPage(t.Alarm.ID),
	}
	if r.answers && (kind == Raised || kind == Ended && t.Alarm.Unanswered()) {
		m.Answer = p.answer(t, r)
	}
	if t.ReAlarm && kind == Raised {
		m.Again = t.Why
	}
	p.say(&m, t, nil)
	return m
}

func (p *Planner) say(m *Message, t alarm.Transition, before []wording.Earlier) {
	f := wording.Of(t.Alarm, p.siteOf(t.Alarm))
	if f.Zone == nil { // about no site, as a channel that fails
		f.Zone = p.zoneOf(m.Person)
	}
	f.Earlier = before
	if t.To == alarm.Unacknowledged {
		f.Again = m.Again
	}
	if m.ofTaking() {
		f.Taken = p.Name(t.By)
	}
	f.Link = m.Link
	if m.Answer != "" {
		f.Link = m.Answer
	}
	f.Answers = !strings.HasPrefix(m.Person, contactPrefix) && t.Alarm.Unanswered()
	l := wording.Lookup(m.Language)
	m.Short = l.Short(f)
	m.Subject, m.Text = l.Full(f)
	m.HTML = l.HTML(f)
}

// zoneOf is the zone of a person, else that of the rota.
func (p *Planner) zoneOf(person string) *time.Location {
	if one, ok := p.settings.person(person); ok && one.Zone != nil {
		return one.Zone
	}
	return p.settings.Rota.Zone
}

// refresh says how the alarm of a message is now, if it is another state by
// then, and who was told before: whoever is woken late should not look for what
// is over, and knows that nobody else has taken it.
func (p *Planner) refresh(m Message, a alarm.Alarm, before []wording.Earlier) Message {
	if !a.Unanswered() {
		before = nil
	}
	if m.Alarm == nil || string(a.State) == m.Alarm.State && len(before) == 0 {
		return m
	}
	t := alarm.Transition{At: m.At, Alarm: a, To: a.State}
	said := t.Outcome()
	m.Alarm = &said
	p.say(&m, t, before)
	return m
}

// page is the address of the page of alarms; empty without a base URL.
func (p *Planner) page() string {
	if p.settings.BaseURL == "" {
		return ""
	}
	return p.settings.BaseURL + "/alarms"
}

// alarmPage is the address of one alarm's page; empty without a base URL.
func (p *Planner) alarmPage(id string) string {
	if p.settings.BaseURL == "" {
		return ""
	}
	return p.page() + "/" + id
}

// answer is the link by which the recipient acknowledges the alarm; empty
// without a base URL or a secret.
func (p *Planner) answer(t alarm.Transition, r recipient) string {
	token := answerlink.Sign(p.settings.Secret, t.Alarm.ID, r.id, t.At.Time().Add(answerable))
	if token == "" || p.settings.BaseURL == "" {
		return ""
	}
	return p.settings.BaseURL + "/a/" + token
}

func (p *Planner) siteOf(a alarm.Alarm) *fleet.Site { return p.sites[p.placeOf(a).Site] }

// placeOf is where an alarm is: its own place, or its heater's.
func (p *Planner) placeOf(a alarm.Alarm) Place {
	at, place := p.places[a.Heater], Place{a.Site, a.Space}
	if place.Site == "" {
		place.Site = at.Site
	}
	if place.Space == "" && place.Site == at.Site {
		place.Space = at.Space
	}
	return place
}

// broadcast tells the channels that belong to nobody in particular of every
// change that pages and of its end.
func (p *Planner) broadcast(t alarm.Transition) []ledger.Job {
	kind := Raised
	switch {
	case t.Pages():
	case ended(t):
		kind = Ended
	default:
		return nil
	}
	var jobs []ledger.Job
	for _, c := range p.settings.Channels {
		if c.Kind != MQTT && !p.settings.Personal(c) && !(t.Alarm.Kind == alarm.ChannelDown && t.Alarm.Detail == c.ID) {
			jobs = append(jobs, job(t, 0, p.write(t, kind, recipient{}, way{Choice: Choice{Channel: c.ID}})))
		}
	}
	return jobs
}

// Personal reports whether a channel reaches somebody in particular: a
// person has it, a step sends through it, or it has no address of its own.
func (s Settings) Personal(c Channel) bool {
	if c.Kind == Mail && len(c.To) == 0 || c.Kind == Text && addressed(c) {
		return true
	}
	for _, person := range s.People {
		if slices.Contains(person.Channels, c.ID) {
			return true
		}
	}
	for _, step := range s.Steps {
		if slices.Contains(step.Via, c.ID) {
			return true
		}
	}
	return false
}
