package notify

import (
	"slices"
	"strconv"
	"sync/atomic"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify/rota"
	"heaterd/ingest/reading"
)

// Duty says who is on call, by person id; ok is false where nobody is.
type Duty interface {
	OnCall(at time.Time) (person string, ok bool)
	// Next is who comes after whoever is on call.
	Next(at time.Time) (person string, ok bool)
	// Stretches parts a time by who is on call, "" for nobody.
	Stretches(from, to time.Time) []rota.Shift
}

const (
	// settling is how long an end waits before it is told, so that messages on
	// their way are counted among those who were told. Common practice, no source.
	settling = 30 * time.Second

	// answerable is how long an acknowledge link works. Common practice, no source.
	answerable = 48 * time.Hour
)

// Planner decides whom a change of an alarm is told to, when and by which
// channel. Its methods may be called from any goroutine, and give the same
// for the same.
type Planner struct {
	settings Settings
	sites    map[string]*fleet.Site
	places   map[string]Place // of heaters
	duty     atomic.Pointer[Duty]
}

// New makes a Planner. duty may be nil (the interface itself, not a nil
// *rota.Rota in it): then the fallback is on call, always.
func New(s Settings, f fleet.Fleet, duty Duty) *Planner {
	p := &Planner{settings: s, sites: map[string]*fleet.Site{}, places: map[string]Place{}}
	for i := range f.Sites {
		p.sites[f.Sites[i].ID] = &f.Sites[i]
	}
	for _, h := range f.Heaters {
		p.places[h.ID] = Place{h.Site, h.Space}
	}
	p.SetDuty(duty)
	return p
}

// SetDuty changes who is on call for everything planned from now on: a
// calendar was read again.
func (p *Planner) SetDuty(d Duty) { p.duty.Store(&d) }

// Plan gives the messages a change of an alarm calls for, with those of later
// steps due in the future: the ledger cancels what is pending once the alarm
// is answered. Ids follow from alarm, change, step, person and channel, so
// planning a change again adds nothing.
func (p *Planner) Plan(t alarm.Transition) []ledger.Job {
	jobs := append(p.states(t), p.broadcast(t)...)
	switch {
	case !t.Pages() && (ended(t) || taken(t)):
		jobs = append(jobs, p.farewell(t)...)
	case !t.Pages():
	case t.Alarm.Priority == alarm.Low:
		jobs = append(jobs, p.digests(t)...)
	default:
		jobs = append(jobs, p.escalation(t)...)
	}
	return jobs
}

// ended reports whether people who were told can be told that it is gone.
func ended(t alarm.Transition) bool {
	held := t.From == alarm.Unacknowledged || t.From == alarm.Acknowledged
	return held && t.Event == alarm.Clear && !t.Alarm.Late
}

// escalation tells people step by step.
func (p *Planner) escalation(t alarm.Transition) []ledger.Job {
	var jobs []ledger.Job
	steps := p.stepsFor(t)
	held := p.held(steps, t)
	for i, step := range steps {
		if i >= len(p.settings.Steps) { // told at once: with the first
			i = 0
		}
		for _, r := range p.who(step, t) {
			r, due := p.inTurn(r, step, t, held)
			jobs = append(jobs, p.raised(t, i, due, r)...)
		}
	}
	return append(jobs, p.repeated(t)...)
}

// repeated tells once more of air that is critical, long after the last step, if
// nobody has acknowledged: silence must not follow where no one has answered.
func (p *Planner) repeated(t alarm.Transition) []ledger.Job {
	steps := slices.DeleteFunc(p.stepsFor(t), func(s Step) bool { return s.Who == "site" })
	if !airCritical(t) || len(steps) == 0 {
		return nil
	}
	var jobs []ledger.Job
	step := steps[len(steps)-1]
	last := p.settings.Steps[len(p.settings.Steps)-1].After
	for i, pause := range repeatAfter {
		for _, r := range p.who(step, t) {
			jobs = append(jobs, p.raised(t, len(p.settings.Steps)+i, t.At.Add(last+pause), r)...)
		}
	}
	return jobs
}

// repeatAfter is how long after the last step critical air is told once more.
// Common practice, no source.
var repeatAfter = []time.Duration{15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 4 * time.Hour}

// airCritical reports whether the air people breathe is critical.
func airCritical(t alarm.Transition) bool {
	return t.Alarm.Kind.ConcernsPeople() && t.Alarm.Priority == alarm.Critical
}

// stepsFor are the steps of an alarm. Where the air people breathe is
// critical the first goes out at once, and to the site's contacts too.
func (p *Planner) stepsFor(t alarm.Transition) []Step {
	steps := slices.Clone(p.settings.Steps)
	if !airCritical(t) {
		return steps
	}
	if len(steps) > 0 {
		steps[0].After = 0
	}
	for _, s := range steps {
		if s.Who == "site" && s.After == 0 && len(s.Via) == 0 {
			return steps
		}
	}
	return append(steps, Step{Who: "site"})
}

func (p *Planner) raised(t alarm.Transition, step int, due reading.Instant, r recipient) []ledger.Job {
	var jobs []ledger.Job
	for _, c := range choices(r.ways, t.Alarm.Priority) {
		j := job(t, step, p.write(t, Raised, r, c))
		j.NextAttempt = r.patient(due, t.Alarm.Priority)
		jobs = append(jobs, j)
	}
	return jobs
}

// way is one channel and, where it fails, what comes instead.
type way struct {
	Choice
	instead []Choice
}

// choices are the ways that are used at once: all of them where it is
// urgent, else the first, and the others only if it fails.
func choices(ways []Choice, priority alarm.Priority) []way {
	var out []way
	for i, c := range ways {
		if urgent(priority) {
			out = append(out, way{Choice: c})
		} else if i == 0 {
			out = append(out, way{c, ways[1:]})
		}
	}
	return out
}

func urgent(p alarm.Priority) bool { return p == alarm.Critical || p == alarm.High }

// job makes the outbox row of a message about a change and names both.
func job(t alarm.Transition, step int, m Message) ledger.Job {
	m.ID = jobID(string(m.Kind), t.Alarm.ID, strconv.Itoa(t.Alarm.Seq), strconv.Itoa(step), m.Person, m.Channel, m.Address, m.Topic)
	return ledger.Job{
		ID: m.ID, Alarm: t.Alarm.ID, Seq: t.Alarm.Seq, Channel: m.Channel, Person: m.Person, Step: step,
		Body: mustJSON(m), Created: t.At, NextAttempt: t.At,
	}
}
