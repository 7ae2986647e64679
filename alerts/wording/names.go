package wording

import (
	"cmp"
	"math"
	"strings"
	"time"

	"heaterd/alerts/alarm"
)

// values gives the names of a template their values, names cut to n
// characters; short is for phones.
func (l *Language) values(f *Facts, n int, short bool) func(string) string {
	bare := func(s, id string) string {
		s = clean(s)
		if short {
			s = spoken(s, clean(id))
		}
		return clip(s, n)
	}
	name := func(s, id string) string { return Isolated(bare(s, id)) }
	plain := func(s string) string { return name(s, s) }
	layout := longClock
	if short {
		layout = shortClock
	}
	return func(key string) string {
		switch key {
		case "where":
			if f.Space == "" {
				return l.where(Isolated(clip(f.rooms(bare), n)), name(f.Site, f.SiteID))
			}
			return l.where(name(f.Space, f.SpaceID), name(f.Site, f.SiteID))
		case "kind":
			return plain(string(f.Kind))
		case "title":
			if short {
				return cmp.Or(l.of(f.Kind).brief, l.title(f))
			}
			return l.title(f)
		case "heater":
			return f.stopped(plain, 3*n)
		case "s":
			return f.plural()
		case "heaters":
			return clip(plainList(f.heaters(), plain), 3*n)
		case "node":
			return plain(f.Node)
		case "detail":
			return plain(f.Detail)
		case "air":
			return l.title(&Facts{Kind: f.Air})
		case "task":
			return plain(cmp.Or(f.Task, f.Detail))
		case "by":
			return plain(f.HeldBy)
		case "why":
			return Isolated(clip(clean(f.Why), 3*n))
		case "until":
			return clock(f.Until, f.Zone, layout)
		case "since":
			return clock(f.Since, f.Zone, layout)
		case "ended":
			return clock(f.Ended, f.Zone, layout)
		case "value", "limit":
			if f.Kind == alarm.NodeClock && f.HasValue {
				return l.clockOff(f, short)
			}
			return f.figure(key, short)
		case "bound":
			return l.bound(f)
		case "worst":
			return f.worst(short)
		case "last":
			return f.last(short)
		case "held":
			if f.Sure == "" {
				return ""
			}
			return l.heldAir
		case "activity":
			return l.activity[f.Activity]
		case "please":
			if f.Answers {
				return l.please
			}
			return ""
		case "harm":
			if f.passed() || f.unlimited() {
				return ""
			}
			return l.harm(f)
		case "soon":
			return l.harm(f)
		case "passed":
			if !f.passed() {
				return ""
			}
			return f.figure("limit", short)
		case "toward":
			if f.passed() {
				return ""
			}
			return f.toward(short)
		case "above":
			if !f.passed() {
				return ""
			}
			return f.toward(short)
		case "sure":
			s := clip(l.sure(f), 2*n)
			if short {
				s = spoken(s, "")
			}
			return s
		default:
			return ""
		}
	}
}

// bound names what the value stands beside: no standard limits an estimated dose.
func (l *Language) bound(f *Facts) string {
	if f.Kind == alarm.CODose {
		return l.action
	}
	return l.limit
}

func (l *Language) where(space, site string) string {
	switch {
	case space == "":
		return site
	case site == "":
		return space
	default:
		return space + ", " + site
	}
}

func plainList(all []string, plain func(string) string) string {
	var names []string
	for _, s := range all {
		names = append(names, plain(s))
	}
	return strings.Join(names, ", ")
}

func (l *Language) title(f *Facts) string {
	return fill(l.of(f.Kind).title, func(key string) string {
		switch key {
		case "s":
			return f.plural()
		case "detail":
			return Isolated(clean(f.Detail))
		default:
			return clean(string(f.Kind))
		}
	})
}

// clockOff says which way a clock is wrong: the value is what must be added.
func (l *Language) clockOff(f *Facts, short bool) string {
	way := l.behind
	if f.Value < 0 {
		way = l.ahead
	}
	off := Facts{HasValue: true, Value: math.Abs(f.Value), Limit: f.Limit, Unit: f.Unit}
	return fill(way, func(string) string { return off.figure("value", short) })
}

// harm says when it will be too late; without a latest time, which it may never
// come to, when at the earliest. What is less than a minute off is now.
func (l *Language) harm(f *Facts) string {
	switch {
	case !f.HasHarm:
		return ""
	case f.HarmEarly >= time.Minute && f.HarmLate <= 0:
		return fill(l.earliest, func(string) string { return span(f.HarmEarly) })
	case f.HarmEarly >= time.Minute:
		return fill(l.soon, func(string) string { return between(f.HarmEarly, f.HarmLate) })
	case f.HarmLate >= time.Minute:
		return fill(l.within, func(string) string { return span(f.HarmLate) })
	default:
		return l.now
	}
}

// sure says how sure: in words, else by the strongest of the evidence, and by
// how much of the time was measured. Where people are, the evidence names a
// heater, which comes later.
func (l *Language) sure(f *Facts) string {
	var all []string
	s := clean(f.Sure)
	if s == "" && len(f.Evidence) > 0 && !f.Kind.ConcernsPeople() {
		s = strings.TrimRight(clean(f.Evidence[0]), ".")
	}
	if s != "" {
		all = append(all, s)
	}
	if f.Coverage != nil {
		all = append(all, fill(l.coverage, func(word string) string {
			if word == "window" {
				return l.window[f.Kind]
			}
			if share := *f.Coverage; share > 0 && share < 0.01 {
				return l.least
			}
			return figure(*f.Coverage, "/")
		}))
	}
	return strings.Join(all, ", ")
}
