package notify

import (
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// reaches reports whether the configuration still has the person and the
// channel of a message that was planned before it was read.
func (p *Planner) reaches(m Message) bool {
	if m.Person == "" || strings.HasPrefix(m.Person, contactPrefix) {
		return true // its channel alone matters, and sending finds that
	}
	_, ok := p.channel(m.Channel)
	return ok && p.knows(m.Person)
}

func (p *Planner) knows(person string) bool {
	_, ok := p.settings.person(person)
	return ok
}

// instead gives the messages about an alarm that take the place of one which
// reaches nobody any more: to the same person by the channels of now, or to
// the fallback where there is no such person. planned are those there are
// about the alarm. Of what needs nobody there are none.
func (p *Planner) instead(j ledger.Job, m Message, a alarm.Alarm, planned []ledger.Job, now reading.Instant) []ledger.Job {
	if m.Kind != Raised {
		return nil
	}
	t := alarm.Transition{At: m.At, Alarm: a, To: a.State}
	var jobs []ledger.Job
	for _, r := range p.inPlaceOf(m.Person, t) {
		for _, c := range choices(r.ways, a.Priority) {
			next := redirected(j, p.write(t, Raised, r, c))
			next.NextAttempt = r.patient(now, a.Priority)
			if !slices.ContainsFunc(planned, func(o ledger.Job) bool { return alike(o, next) }) {
				jobs = append(jobs, next)
			}
		}
	}
	return jobs
}

// redirected has the same id wherever it comes from: nobody is told twice of
// one step.
func redirected(j ledger.Job, m Message) ledger.Job {
	m.ID = jobID("instead", j.Alarm, strconv.Itoa(j.Seq), strconv.Itoa(j.Step), m.Person, m.Channel)
	j.ID, j.Channel, j.Person, j.Body = m.ID, m.Channel, m.Person, mustJSON(m)
	return j
}

// alike reports whether two messages tell the same step to the same person on
// the same channel.
func alike(a, b ledger.Job) bool {
	return a.Seq == b.Seq && a.Step == b.Step && a.Person == b.Person && a.Channel == b.Channel
}

// inPlaceOf is the person, or who is told where there is no such person.
func (p *Planner) inPlaceOf(person string, t alarm.Transition) []recipient {
	if !p.knows(person) {
		person = p.settings.Fallback
	}
	return p.person(person, nil, t)
}
