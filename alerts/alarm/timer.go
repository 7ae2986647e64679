package alarm

import (
	"cmp"
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// Tick lets the timers run out that are due: on-delays, off-delays,
// shelvings, re-alarms. Each transition is dated when its timer ran out, not
// when the tick came, so the spacing of ticks does not show. Observe and
// Answer do the same for the alarm they concern.
func (b *Book) Tick(now reading.Instant) []Transition {
	if b.next == 0 || now < b.next {
		return nil
	}
	var out []Transition
	for _, e := range b.dueBy(now) {
		out = append(out, b.overdue(e, now)...)
	}
	slices.SortStableFunc(out, func(x, y Transition) int { return cmp.Compare(x.At, y.At) })
	b.next = 0
	for _, e := range b.entries {
		b.expect(e)
	}
	return out
}

func (b *Book) dueBy(now reading.Instant) []*entry {
	var due []*entry
	for _, e := range b.entries {
		if at, _ := e.timer(); at != 0 && at <= now {
			due = append(due, e)
		}
	}
	slices.SortFunc(due, func(x, y *entry) int { return x.Key.Compare(y.Key) })
	return due
}

// overdue runs the timers of one alarm that are due, in their order.
func (b *Book) overdue(e *entry, now reading.Instant) []Transition {
	var out []Transition
	for {
		at, ev := e.timer()
		if at == 0 || at > now {
			return out
		}
		b.touched[e] = struct{}{}
		out = append(out, b.fire(e, at, ev)...)
	}
}

func (b *Book) fire(e *entry, at reading.Instant, ev Event) []Transition {
	switch ev {
	case Raise:
		b.renew(e)
		return b.raise(e, at)
	case Clear:
		return b.clear(e, at)
	case Expire:
		return b.move(e, Expire, at, person{why: "the shelving ran out"})
	default:
		return b.move(e, AlarmAgain, at, person{why: "still so after " + words(e.rule.ReAlarm)})
	}
}

// timer is the next timer of an alarm to run out; 0: none runs.
func (e *entry) timer() (at reading.Instant, ev Event) {
	earlier := func(t reading.Instant, v Event) {
		if at == 0 || t < at {
			at, ev = t, v
		}
	}
	if e.OnFrom != 0 {
		earlier(e.OnFrom.Add(e.rule.OnDelay), Raise)
	}
	if e.OffFrom != 0 && !e.rule.Measured {
		earlier(e.OffFrom.Add(e.offDelay()), Clear)
	}
	if e.State == Shelved {
		earlier(e.ShelvedUntil, Expire)
	}
	if e.State == Acknowledged && e.rule.ReAlarm > 0 {
		earlier(e.AckedAt.Add(e.rule.ReAlarm), AlarmAgain)
	}
	return at, ev
}

// expect notes when the alarm's next timer runs out.
func (b *Book) expect(e *entry) {
	if at, _ := e.timer(); at != 0 && (b.next == 0 || at < b.next) {
		b.next = at
	}
}

func (e *entry) offDelay() time.Duration {
	if e.Chattering {
		return max(e.rule.OffDelay, e.rule.Chatter.Hold)
	}
	return e.rule.OffDelay
}

// restless counts a raise and finds out whether the key chatters.
func (e *entry) restless(at reading.Instant) {
	c := e.rule.Chatter
	if c.Count == 0 {
		return
	}
	recent := []reading.Instant{} // a fresh slice: copies of the alarm keep theirs
	for _, t := range e.Recent {
		if at.Sub(t) < c.Window {
			recent = append(recent, t)
		}
	}
	e.Recent = append(recent, at)
	e.Chattering = e.Chattering || len(e.Recent) >= c.Count
}
