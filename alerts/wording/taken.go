package wording

import "strings"

// taken says in one line who has acknowledged or shelved the alarm, to others
// who were told of it; empty where nobody did, or nobody is to be told.
func (l *Language) taken(f *Facts) string {
	if f.Taken == "" {
		return ""
	}
	return fill(l.takenLine[f.State], func(string) string { return cleanName(f.Taken) })
}

// takenShort is the same for a phone, at the end of the text.
func (l *Language) takenShort(f *Facts) string { return l.takenBy(f, " ", spoken(clean(f.Taken), "")) }

// takenSubject is the same at the end of a subject.
func (l *Language) takenSubject(f *Facts) string {
	return strings.TrimSuffix(l.takenBy(f, "; ", clean(f.Taken)), ".")
}

func (l *Language) takenBy(f *Facts, before, name string) string {
	if name == "" || l.takenWord[f.State] == "" {
		return ""
	}
	return before + fill(l.takenWord[f.State], func(key string) string {
		if key == "until" {
			return clock(f.Until, f.Zone, shortClock)
		}
		return Isolated(clip(name, takenName))
	})
}

// takenName is the longest name of whoever did so in a text for a phone,
// characters: it has to stay, whatever else is cut short.
const takenName = 24
