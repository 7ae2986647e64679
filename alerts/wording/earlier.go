package wording

import (
	"slices"
	"strings"
	"time"

	"heaterd/ingest/reading"
)

// sameNight is how long after an alarm began a time of day alone tells when it
// was.
const sameNight = 12 * time.Hour

// earlier says in one line who was told before the reader: those who were to
// answer, those who had only to know, and those whom nothing reached.
func (l *Language) earlier(f *Facts) string {
	var owe, know, missed []Earlier
	for _, e := range f.Earlier {
		switch {
		case e.Reader:
		case e.At == 0:
			missed = append(missed, e)
		case e.Answers:
			owe = append(owe, e)
		default:
			know = append(know, e)
		}
	}
	w := &l.earlierWords
	said := []string{l.toldOf(owe, f), l.toldOf(know, f), ""}
	switch len(owe) {
	case 0:
	case 1:
		said[0] += w.unanswered
	default:
		said[0] += w.nobody
	}
	if len(missed) > 0 {
		said[2] = fill(w.unreached, func(string) string { return plainList(names(missed), cleanName) })
	}
	return sentences(slices.DeleteFunc(said, func(s string) bool { return s == "" }))
}

func (l *Language) toldOf(all []Earlier, f *Facts) string {
	var b strings.Builder
	for i, e := range all {
		template := l.earlierWords.also
		if i == 0 {
			template = l.earlierWords.told
		}
		b.WriteString(fill(template, l.earlierValues(e, f, false)))
	}
	return b.String()
}

func (l *Language) earlierValues(e Earlier, f *Facts, short bool) func(string) string {
	return func(key string) string {
		switch {
		case key == "at":
			return clock(e.At, f.Zone, toldClock(f.Since, e.At))
		case short:
			return spoken(clean(e.Name), "")
		default:
			return cleanName(e.Name)
		}
	}
}

// reminded says that the reader was told before: the same words twice look like
// one message that came twice.
func (l *Language) reminded(f *Facts) string { return l.ofReader(f, l.earlierWords.reader) }

func (l *Language) ofReader(f *Facts, template string) string {
	for _, e := range f.Earlier {
		if e.Reader {
			return fill(template, l.earlierValues(e, f, false))
		}
	}
	return ""
}

// earlierShort says for a phone that there is no answer, of the reader or else of
// the one who was told first, and then who was not reached: each where there is
// room.
func (l *Language) earlierShort(f *Facts) []string {
	w := &l.earlierWords
	first := func(template string, fits func(Earlier) bool) string {
		if i := slices.IndexFunc(f.Earlier, fits); i >= 0 {
			return fill(template, l.earlierValues(f.Earlier[i], f, true))
		}
		return ""
	}
	said := l.ofReader(f, w.shortReader)
	if said == "" {
		said = first(w.shortUnanswered, func(e Earlier) bool { return !e.Reader && e.At != 0 && e.Answers })
	}
	return []string{said, first(w.shortUnreached, func(e Earlier) bool { return !e.Reader && e.At == 0 })}
}

func toldClock(since, at reading.Instant) string {
	if gap := at.Sub(since); since != 0 && gap >= 0 && gap < sameNight {
		return hourClock
	}
	return shortClock
}

func names(all []Earlier) []string {
	var out []string
	for _, e := range all {
		out = append(out, e.Name)
	}
	return out
}
