package notify

import (
	"strconv"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
)

// farewell is the one job by which the end of an alarm, or who has acknowledged
// or shelved it, is told: who was told of the alarm is known only when it is sent.
func (p *Planner) farewell(t alarm.Transition) []ledger.Job {
	if !p.reachesPeople() {
		return nil
	}
	j := job(t, 0, Message{Kind: Farewell, At: t.At, Change: &t})
	j.NextAttempt = t.At.Add(settling)
	return []ledger.Job{j}
}

// reachesPeople reports whether anybody in particular may have been told.
func (p *Planner) reachesPeople() bool {
	for _, c := range p.settings.Channels {
		if c.Kind == Mail || c.Kind == Text {
			return true
		}
	}
	return len(p.settings.People) > 0
}

// farewells gives one message for each person who was told of the alarm,
// by the channel that reached them first. told are the messages about the
// alarm so far. Nothing about an end is urgent; that somebody sees to an alarm is
// as urgent as the alarm was.
func (p *Planner) farewells(m Message, told []ledger.Job) []ledger.Job {
	var jobs []ledger.Job
	seen := map[string]bool{}
	for _, j := range told {
		before, err := ReadMessage(j.Body)
		if err != nil || j.State != ledger.Sent || before.Kind != Raised || before.Person == "" || seen[before.Person] || !p.tells(*m.Change, before) {
			continue
		}
		seen[before.Person] = true
		jobs = append(jobs, p.goodbye(*m.Change, before))
	}
	return jobs
}

// goodbye has the same id whichever channel it goes by: nobody is told twice.
func (p *Planner) goodbye(t alarm.Transition, before Message) ledger.Job {
	r := p.toldAs(before, t)
	kind, priority := afterwards(t)
	m := p.write(t, kind, r, way{Choice: Choice{before.Channel, before.Address}})
	m.ID = jobID(string(kind), t.Alarm.ID, strconv.Itoa(t.Alarm.Seq), r.id)
	return ledger.Job{
		ID: m.ID, Alarm: t.Alarm.ID, Seq: t.Alarm.Seq, Channel: m.Channel, Person: r.id,
		Body: mustJSON(m), Created: t.At, NextAttempt: r.patient(t.At, priority),
	}
}

// toldAs is whom a message went to, with their quiet hours if they are known
// still.
func (p *Planner) toldAs(before Message, t alarm.Transition) recipient {
	if found := p.person(before.Person, nil, t); len(found) > 0 {
		return found[0]
	}
	return recipient{id: before.Person, name: before.Name, language: before.Language}
}

// stands reports whether the condition whose end a message tells holds again,
// in that occurrence or in a later one. Quiet hours or a failing receiver may
// have held the message back for hours.
func stands(m Message, alarms []alarm.Alarm) bool {
	for _, a := range alarms {
		if a.Active && m.Alarm != nil && stem(a.ID) == stem(m.Alarm.ID) {
			return true
		}
	}
	return false
}

// stem is an alarm's id without the number of the occurrence.
func stem(id string) string { return id[:strings.LastIndexByte(id, '.')+1] }
