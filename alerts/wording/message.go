package wording

import (
	"cmp"
	"math"
	"strings"
	"time"

	"heaterd/alerts/alarm"
)

// Longest texts, in characters.
const (
	maxLine    = 320
	MaxShort   = 160 // one short message in the basic alphabet (3GPP TS 23.038)
	maxSubject = 120
)

// nameLengths are tried in turn until a text fits.
var nameLengths = []int{wholeNames, 60, 40, 30, 22, 16, 12, 8}

// Line is one sentence in English: see Language.Line.
func Line(f Facts) string { return english.Line(f) }

// Whole is the line with names in full, in English: see Language.Whole.
func Whole(f Facts, led bool) string { return english.Whole(f, led) }

// Told is what is said of an alarm where nothing but one text is kept, in
// English: see Language.Told.
func Told(f Facts) string { return english.Told(f) }

// Title names a kind of alarm in a few words, in English.
func Title(k alarm.Kind) string { return english.title(&Facts{Kind: k}) }

// Line is one sentence of at most maxLine characters: what, where, since when
// in the site's time, how sure.
func (l *Language) Line(f Facts) string {
	template := l.lineFor(&f)
	return fit(maxLine, func(n int) string { return fill(template, l.values(&f, n, false)) })
}

// wholeNames is how long names may be where there is room for the whole of
// them.
const wholeNames = 400

// Whole is the line with names in full, for pages and letters. Led by the
// site's procedure there, it does not point to it again.
func (l *Language) Whole(f Facts, led bool) string {
	template := l.lineFor(&f)
	if led {
		template = strings.Replace(template, doLine, "", 1)
	}
	return clean(fill(template, l.values(&f, wholeNames, false)))
}

// Told is the line with names and evidence in full, in which the site's own
// procedure is not pointed to but given whole, where people are concerned.
func (l *Language) Told(f Facts) string {
	own := l.noProc
	if all := lines(f.Procedure); len(all) > 0 {
		own = "Site's procedure: " + sentences(all)
	}
	return strings.Replace(l.Whole(f, false), doLine, own+doTold, 1)
}

func (l *Language) lineFor(f *Facts) string {
	switch {
	case f.Late:
		return l.late + l.of(f.Kind).line
	case f.unended() && f.State == alarm.Latched:
		return l.unmeasured
	case f.unended():
		return l.unwatched
	case f.State == alarm.Latched:
		return l.latched
	case f.over():
		return cmp.Or(l.of(f.Kind).over, l.over)
	case f.behindAir():
		return l.air + l.of(f.Kind).line + l.hold(f)
	default:
		return l.of(f.Kind).line + l.hold(f)
	}
}

// hold says that somebody or something holds an alarm back; the line of a
// heater that is out of service says so itself.
func (l *Language) hold(f *Facts) string {
	if f.Kind == alarm.HeaterOutOfService {
		return ""
	}
	return l.held[f.State]
}

// Short is at most MaxShort characters of plain letters. How the heaters of a
// space stand, and who was told before, is said where there is room.
func (l *Language) Short(f Facts) string {
	template := l.of(f.Kind).short
	if over, ok := l.shortFor[f.State]; ok && !f.Late {
		template = cmp.Or(l.of(f.Kind).overShort, over)
		if f.unended() {
			template = l.unendedFor[f.State]
		}
	}
	if f.behindAir() {
		template = l.airShort + template
	}
	if f.Late {
		template = l.lateTag + template
	}
	taken := l.takenShort(&f)
	text := fit(MaxShort-len([]rune(taken)), func(n int) string { return fill(template, l.values(&f, n, true)) }) + taken
	for _, more := range []string{l.seenShort(&f), l.earlierShort(&f)} {
		if longer := clean(text + " " + more); len([]rune(longer)) <= MaxShort {
			text = longer
		}
	}
	return text
}

// fit writes with ever shorter names until the text is no longer than most.
func fit(most int, write func(names int) string) string {
	text := ""
	for _, n := range nameLengths {
		text = strings.ReplaceAll(clean(write(n)), "....", "...") // a name cut short at the end of a sentence
		if len([]rune(text)) <= most {
			return text
		}
	}
	return clip(text, most)
}

// values gives the names of a template their values, names cut to n
// characters; short is for phones.
func (l *Language) values(f *Facts, n int, short bool) func(string) string {
	name := func(s, id string) string {
		s = clean(s)
		if short {
			s = spoken(s, clean(id))
		}
		return clip(s, n)
	}
	plain := func(s string) string { return name(s, s) }
	layout := longClock
	if short {
		layout = shortClock
	}
	return func(key string) string {
		switch key {
		case "where":
			if f.Space == "" {
				return l.where(clip(f.rooms(name), n), name(f.Site, f.SiteID))
			}
			return l.where(name(f.Space, f.SpaceID), name(f.Site, f.SiteID))
		case "kind":
			return plain(string(f.Kind))
		case "title":
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
			return clip(clean(f.Why), 3*n)
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

// heaters are those to look at: the alarm's own, then the others concerned.
func (f *Facts) heaters() []string {
	var all []string
	if f.Heater != "" {
		all = append(all, f.Heater)
	}
	for _, h := range f.Heaters {
		if h != f.Heater {
			all = append(all, h)
		}
	}
	return all
}

// stopped names the alarm's heater, or all of them where a whole site is
// concerned. Where people are, no heater is named before what to do.
func (f *Facts) stopped(plain func(string) string, most int) string {
	switch {
	case f.Kind.ConcernsPeople():
		return ""
	case f.Heater != "":
		return plain(f.Heater)
	default:
		return clip(plainList(f.Heaters, plain), most)
	}
}

func (f *Facts) plural() string {
	if f.Heater == "" && len(f.Heaters) > 1 {
		return "s"
	}
	return ""
}

func (l *Language) title(f *Facts) string {
	return fill(l.of(f.Kind).title, func(key string) string {
		if key == "s" {
			return f.plural()
		}
		return clean(string(f.Kind))
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
