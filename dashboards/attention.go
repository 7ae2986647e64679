package dashboards

import (
	"cmp"
	"slices"
	"time"

	"heaterd/alerts/alarm"
)

// needsSomebody reports whether an alarm waits for a person: to see it, to
// act, to acknowledge that it is over, or to reset it.
func needsSomebody(a *alarm.Alarm) bool {
	switch a.State {
	case alarm.Unacknowledged, alarm.Acknowledged, alarm.Returned, alarm.Latched:
		return true
	default:
		return false
	}
}

// Attention is what waits for somebody.
type Attention struct {
	Now  []*alarm.Alarm // what holds first, soonest harm first, people before things, then priority
	Late []*alarm.Alarm // low priority: can wait for working hours
	More int            // beyond the longest list
}

// longestList is how many alarms are listed before the rest is a number.
const longestList = 25

func (s *Stock) attention() Attention {
	var a Attention
	for i := range s.Alarms {
		switch one := &s.Alarms[i]; {
		case !needsSomebody(one):
		case one.Priority == alarm.Low:
			a.Late = append(a.Late, one)
		default:
			a.Now = append(a.Now, one)
		}
	}
	slices.SortStableFunc(a.Now, byHarm)
	a.shorten()
	return a
}

// shorten leaves out what is beyond the longest list. What is about the air
// stays: it may have ended, but nobody has cleared the space.
func (a *Attention) shorten() {
	var kept []*alarm.Alarm
	for i, one := range a.Now {
		if i < longestList || one.Kind.ConcernsPeople() {
			kept = append(kept, one)
		}
	}
	a.Now, a.More = kept, len(a.Now)-len(kept)
}

// byHarm puts what holds before what ended and waits for an answer or a reset,
// and orders both by time to harm, people before things, then priority, then
// the longer waiting.
func byHarm(a, b *alarm.Alarm) int {
	return cmp.Or(
		cmp.Compare(over(a), over(b)),
		cmp.Compare(toHarm(a), toHarm(b)),
		cmp.Compare(things(a), things(b)),
		cmp.Compare(a.Priority.Rank(), b.Priority.Rank()),
		cmp.Compare(a.Since, b.Since),
		cmp.Compare(a.ID, b.ID),
	)
}

// longest are the times to harm that priorities allow at most, by the bands
// with which the alarm rules give priorities; they stand in where no time is
// known. Common practice, no source.
var longest = map[alarm.Priority]time.Duration{
	alarm.Critical: 30 * time.Minute,
	alarm.High:     2 * time.Hour,
	alarm.Medium:   8 * time.Hour,
	alarm.Low:      48 * time.Hour,
}

// toHarm is the time until somebody or something comes to harm. Air over a
// limit is harm now; what is over already cannot harm any more and comes by
// its priority.
func toHarm(a *alarm.Alarm) time.Duration {
	switch {
	case a.Active && a.Kind.ConcernsPeople() && a.Kind != alarm.CORising:
		return 0
	case a.Active && a.Findings.HasHarm:
		return max(a.Findings.HarmEarly, 0)
	default:
		return longest[a.Priority]
	}
}

// over is 1 for an alarm whose condition is gone. One that latched and that
// nobody has seen is not over: people may go back into the space.
func over(a *alarm.Alarm) int {
	if a.Active || a.State == alarm.Latched && !a.Acked {
		return 0
	}
	return 1
}

// things is 1 for an alarm that is not about the air people breathe.
func things(a *alarm.Alarm) int {
	if a.Kind.ConcernsPeople() {
		return 0
	}
	return 1
}
