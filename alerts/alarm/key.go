package alarm

import (
	"cmp"
	"strconv"
	"strings"
)

// Key names what an alarm is about. At any time a key has at most one
// occurrence that is not over. Fields that do not apply are empty.
type Key struct {
	Kind   Kind   `json:"kind"`
	Site   string `json:"site,omitempty"`
	Space  string `json:"space,omitempty"`
	Heater string `json:"heater,omitempty"`
	Node   string `json:"node,omitempty"`
	Detail string `json:"detail,omitempty"` // what else tells two apart: a task, a channel
}

// Compare orders keys by place, then by kind.
func (k Key) Compare(o Key) int {
	return cmp.Or(
		cmp.Compare(k.Site, o.Site), cmp.Compare(k.Space, o.Space),
		cmp.Compare(k.Heater, o.Heater), cmp.Compare(k.Node, o.Node),
		cmp.Compare(k.Kind, o.Kind), cmp.Compare(k.Detail, o.Detail))
}

// stem is an alarm id without its number: the most particular place, the
// kind, the detail. Two keys may share a stem (a heater that moved to
// another site), so numbers are counted by stem.
func (k Key) stem() string {
	parts := []string{k.place(), string(k.Kind)}
	if k.Detail != "" {
		parts = append(parts, plain(k.Detail))
	}
	return strings.Join(parts, ".")
}

func (k Key) place() string {
	switch {
	case k.Heater != "":
		return plain(k.Heater)
	case k.Node != "":
		return plain(k.Node)
	case k.Space != "":
		return plain(k.Site) + "." + plain(k.Space)
	case k.Site != "":
		return plain(k.Site)
	default:
		return "heaterd"
	}
}

// id is the stem and the number of the occurrence, from 1.
func id(stem string, n int) string { return stem + "." + strconv.Itoa(n) }

// plain writes s in the letters that need no escaping in a URL (RFC 3986
// section 2.3) without the dot, which parts the pieces of an id. Any other
// byte becomes "~" and two hexadecimal digits, so different names stay
// different.
func plain(s string) string {
	clean := true
	for i := range len(s) {
		clean = clean && unreserved(s[i])
	}
	if clean {
		return s
	}
	return escaped(s)
}

func escaped(s string) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for i := range len(s) {
		if unreserved(s[i]) {
			b.WriteByte(s[i])
			continue
		}
		b.Write([]byte{'~', hex[s[i]>>4], hex[s[i]&15]})
	}
	return b.String()
}

func unreserved(c byte) bool {
	return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '-' || c == '_'
}
