package dashboards

import (
	"cmp"
	"slices"
	"strconv"
)

// card is one thing that waits for a person: an alarm, or all alarms about
// the air of one space, which are one event to whoever has to act.
type card struct {
	All  []alarmView // worst first; at least one
	Head string      // where more than one: how many, and where
}

// First is the worst of its alarms.
func (c card) First() alarmView { return c.All[0] }

// Others counts those beside it.
func (c card) Others() int { return len(c.All) - 1 }

// Waiting lists the alarms of it that can be acknowledged.
func (c card) Waiting() []string {
	var out []string
	for _, v := range c.All {
		if v.CanAck {
			out = append(out, v.ID)
		}
	}
	return out
}

// Uncleared reports whether an alarm of it waits only for the site to clear the
// space.
func (c card) Uncleared() bool { return slices.ContainsFunc(c.All, alarmView.Uncleared) }

// cards folds the alarms about the air of each space into one card at the
// place of the first of them. None is left out.
func (s *Stock) cards(all []alarmView) []card {
	type place struct{ site, space string }
	var out []card
	at := map[place]int{}
	for _, v := range all {
		here := place{v.Site, v.Space}
		i, seen := at[here]
		switch {
		case !v.Kind.ConcernsPeople():
			out = append(out, card{All: []alarmView{v}})
		case seen:
			out[i].All = append(out[i].All, v)
		default:
			at[here] = len(out)
			out = append(out, card{All: []alarmView{v}})
		}
	}
	for i := range out {
		s.complete(&out[i])
	}
	return out
}

// complete puts the worst first: what holds before what is over, then by
// priority, in each as it came. The procedure is that of the card.
func (s *Stock) complete(c *card) {
	above := c.First().Above
	slices.SortStableFunc(c.All, func(a, b alarmView) int {
		return cmp.Or(cmp.Compare(over(a.Alarm), over(b.Alarm)), cmp.Compare(a.Priority.Rank(), b.Priority.Rank()))
	})
	c.All[0].Above = above
	if v := c.First(); c.Others() > 0 {
		c.Head = strconv.Itoa(len(c.All)) + " alarms about the air of " + s.place(v.Alarm)
	}
}
