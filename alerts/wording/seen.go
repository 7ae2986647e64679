package wording

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/alarm"
)

// concerned lists the heaters to look at, with how each stands and, where the
// alarm is of several spaces, where.
func (l *Language) concerned(f *Facts) []string {
	if len(f.Seen) == 0 {
		return cleaned(f.Heaters)
	}
	var out []string
	for _, s := range f.Seen {
		words := l.seen[s.How]
		if f.over() || f.recovering() { // how they stood is of then
			words = ""
		}
		out = append(out, fill(l.seenLine+words, func(key string) string {
			switch {
			case key == "heater":
				return clean(s.Heater)
			case key == "room" && f.Space == "":
				return cleanName(f.room(s.Space))
			case key == "since":
				return clock(s.Since, f.Zone, shortClock)
			default:
				return ""
			}
		}))
	}
	return out
}

// fewSeen is how many heaters a short message tells one by one.
const fewSeen = 3

// seenShort says in a few words how the heaters of the space stand, for a
// phone; nothing of an alarm that names its heaters.
func (l *Language) seenShort(f *Facts) string {
	if len(f.Seen) == 0 || f.Space == "" || f.over() || f.recovering() {
		return ""
	}
	if len(f.Seen) > fewSeen {
		return l.countLit(f)
	}
	var all []string
	for _, s := range f.Seen {
		all = append(all, spoken(clean(s.Heater), "?")+" "+l.seenWord[s.How])
	}
	return strings.Join(all, ", ") + "."
}

func (l *Language) countLit(f *Facts) string {
	lit := 0
	for _, s := range f.Seen {
		if s.How == alarm.Lit {
			lit++
		}
	}
	return fill(l.seenMany, func(key string) string {
		if key == "lit" {
			return strconv.Itoa(lit)
		}
		return strconv.Itoa(len(f.Seen))
	})
}

// room is the name of a space of the site.
func (f *Facts) room(id string) string { return cmp.Or(f.Rooms[id], id) }

// rooms are the spaces of an alarm of several heaters of a site, each once.
func (f *Facts) rooms(plain func(name, id string) string) string {
	var out []string
	for _, s := range f.Seen {
		if room := plain(f.room(s.Space), s.Space); room != "" && !slices.Contains(out, room) {
			out = append(out, room)
		}
	}
	return strings.Join(out, ", ")
}
