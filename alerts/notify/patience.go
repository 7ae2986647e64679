package notify

import (
	"cmp"
	"slices"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify/rota"
	"heaterd/ingest/reading"
)

// longestWait is the longest that quiet hours keep a step back. Common practice,
// no source.
const longestWait = 24 * time.Hour

// held is how long quiet hours keep an alarm from the first who is told. Until
// then nobody has failed to answer.
func (p *Planner) held(steps []Step, t alarm.Transition) time.Duration {
	if len(steps) == 0 {
		return 0
	}
	var waits []time.Duration
	due := t.At.Add(steps[0].After)
	for _, r := range p.who(steps[0], t) {
		waits = append(waits, r.patient(due, t.Alarm.Priority).Sub(due))
	}
	if len(waits) == 0 {
		return 0
	}
	return slices.Min(waits)
}

// inTurn is who is told by a step of what was held back at night, and from when
// on. What waits for somebody's quiet hours keeps its distance from the first
// step, so that not everybody is called at the same minute of the morning, and
// goes to whoever is on call by then. Who has no quiet hours is told at night.
func (p *Planner) inTurn(r recipient, s Step, t alarm.Transition, held time.Duration) (recipient, reading.Instant) {
	due := t.At.Add(s.After)
	if held == 0 || r.patient(due, t.Alarm.Priority) == due {
		return r, due
	}
	then := r
	if s.Who == "on-call" || s.Who == "next" {
		later := t
		later.At = t.At.Add(held)
		if found := p.who(s, later); len(found) > 0 {
			then = found[0]
		}
	}
	if then.patient(due.Add(held), t.Alarm.Priority).Sub(due) > longestWait {
		return r, due
	}
	return then, due.Add(held)
}

// patient is when what is due may be sent: what is not urgent waits for the
// end of the person's quiet hours.
func (r recipient) patient(due reading.Instant, priority alarm.Priority) reading.Instant {
	if r.quiet == nil || urgent(priority) {
		return due
	}
	return reading.InstantOf(r.quiet.after(due.Time(), r.zoneOr()))
}

func (r recipient) zoneOr() *time.Location { return cmp.Or(r.zone, time.UTC) }

// after gives at, or the end of the window if at lies in it.
func (w Window) after(at time.Time, zone *time.Location) time.Time {
	y, m, d := at.In(zone).Date()
	for day := d - 1; day <= d; day++ {
		to := w.To
		if w.To <= w.From {
			to += 24 * time.Hour
		}
		from, end := rota.Wall(y, m, day, w.From, zone), rota.Wall(y, m, day, to, zone)
		if !at.Before(from) && at.Before(end) {
			return end
		}
	}
	return at
}
