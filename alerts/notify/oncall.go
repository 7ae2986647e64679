package notify

import (
	"cmp"
	"time"

	"heaterd/alerts/notify/rota"
)

// lookAhead is how far ahead it is told who comes next: two turns of a week
// and a day. Common practice, no source.
const lookAhead = 15 * 24 * time.Hour

// OnCall is who answers for alarms at an instant, by names only: how they are
// reached is nobody's business who merely reads a page.
type OnCall struct {
	Told   bool // alarms are told to people at all
	Rota   bool // turns or a calendar are configured
	Unread bool // the calendar could not be read yet
	// Stale is since when the calendar cannot be read, and Why: what it said
	// before still counts. Zero: it was read of late, or there is none.
	Stale time.Time
	Why   string

	Zone     *time.Location
	Turns    []Turn // now and what comes, gaps included; empty without a rota
	Steps    []Telling
	Fallback string // name of who is told where nobody is on call
}

// Turn is a stretch in which one person is on call, or nobody.
type Turn struct {
	Name     string // empty: nobody
	From, To time.Time
	Open     bool // it goes on beyond what was looked at
}

// Telling is one step of telling people, as of now.
type Telling struct {
	After time.Duration
	Who   string   // as configured: on-call, next, everyone, site, or a person's id
	Names []string // empty: the contacts of the alarm's site
}

// Now is the turn in progress; ok is false without a rota that could be read.
func (o *OnCall) Now() (t Turn, ok bool) {
	if len(o.Turns) == 0 {
		return Turn{}, false
	}
	return o.Turns[0], true
}

// OnCall tells who answers for alarms at an instant.
func (p *Planner) OnCall(at time.Time) OnCall {
	s := &p.settings
	o := OnCall{
		Told: len(s.Steps) > 0 && len(s.People) > 0, Rota: len(s.Rota.Turns) > 0 || s.Rota.Calendar != "",
		Zone: s.Rota.Zone, Fallback: p.Name(s.Fallback),
	}
	d := *p.duty.Load()
	o.Unread = o.Rota && d == nil
	if d != nil {
		o.Turns = p.turns(d.Stretches(at, at.Add(lookAhead)), at.Add(lookAhead))
	}
	for _, step := range s.Steps {
		o.Steps = append(o.Steps, Telling{After: step.After, Who: step.Who, Names: p.told(step, d, at)})
	}
	return o
}

func (p *Planner) turns(all []rota.Shift, end time.Time) []Turn {
	var out []Turn
	for _, s := range all {
		out = append(out, Turn{Name: p.Name(s.Person), From: s.From, To: s.To, Open: !s.To.Before(end)})
	}
	return out
}

// told names whom a step would tell of an alarm that came now.
func (p *Planner) told(s Step, d Duty, at time.Time) []string {
	switch s.Who {
	case "on-call":
		return []string{p.onDutyNow(d, at.Add(s.After), Duty.OnCall)}
	case "next":
		return []string{p.onDutyNow(d, at, Duty.Next)}
	case "everyone":
		var all []string
		for _, person := range p.settings.People {
			all = append(all, p.Name(person.ID))
		}
		return all
	case "site":
		return nil
	default:
		return []string{p.Name(s.Who)}
	}
}

func (p *Planner) onDutyNow(d Duty, at time.Time, ask func(Duty, time.Time) (string, bool)) string {
	if d != nil {
		if id, ok := ask(d, at); ok {
			return p.Name(id)
		}
	}
	return p.Name(p.settings.Fallback)
}

// Name gives a person's name, or the id where there is none.
func (p *Planner) Name(id string) string {
	person, _ := p.settings.person(id)
	return cmp.Or(person.Name, id)
}
