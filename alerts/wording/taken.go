package wording

import "strings"

// taken says in one line who has acknowledged the alarm, to others who were
// told of it; empty where nobody did, or nobody is to be told.
func (l *Language) taken(f *Facts) string {
	if f.Taken == "" {
		return ""
	}
	return fill(l.takenLine, func(string) string { return clean(f.Taken) })
}

// takenShort is the same for a phone, at the end of the text.
func (l *Language) takenShort(f *Facts) string { return l.takenBy(" ", spoken(clean(f.Taken), "")) }

// takenSubject is the same at the end of a subject.
func (l *Language) takenSubject(f *Facts) string {
	return strings.TrimSuffix(l.takenBy("; ", clean(f.Taken)), ".")
}

func (l *Language) takenBy(before, name string) string {
	if name == "" {
		return ""
	}
	return before + fill(l.takenWord, func(string) string { return clip(name, takenName) })
}

// takenName is the longest name of whoever acknowledged in a text for a phone,
// characters: it has to stay, whatever else is cut short.
const takenName = 24
