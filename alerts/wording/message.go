package wording

import (
	"cmp"
	"strings"

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
	return neat(fill(template, l.values(&f, wholeNames, false)))
}

// Told is the line with names and evidence in full, in which the site's own
// procedure is not pointed to but given whole, where people are concerned.
func (l *Language) Told(f Facts) string {
	own := l.noProc
	if all := lines(f.Procedure); len(all) > 0 {
		own = "Site's procedure: " + Isolated(sentences(all))
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
		return cmp.Or(l.of(f.Kind).over, l.over) + l.hold(f)
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
	most := MaxShort - len([]rune(taken))
	write := func(n int) string { return clean(fill(template, l.values(&f, n, true))) }
	if f.behindAir() && len([]rune(write(wholeNames))) > most { // where, rather than since when
		template, _, _ = strings.Cut(template, "{where}")
		template += "{where}."
	}
	text := fit(most, write) + taken
	if again := l.againTag + text; f.Again != "" && len([]rune(again)) <= MaxShort {
		text = again
	}
	for _, more := range append([]string{l.seenShort(&f)}, l.earlierShort(&f)...) {
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
		text = strings.ReplaceAll(neat(write(n)), "....", "...") // a name cut short at the end of a sentence
		if len([]rune(text)) <= most {
			return text
		}
	}
	return ended(clip(text, most-1))
}
