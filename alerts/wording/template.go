package wording

import "strings"

// A template is a text with {names} to fill in. A part in [brackets] is left
// out when any name in it is empty; brackets do not nest.

// fill writes a template with the values of the names.
func fill(template string, value func(name string) string) string {
	var b strings.Builder
	for {
		plain, rest, more := strings.Cut(template, "[")
		text, _ := substitute(plain, value)
		b.WriteString(text)
		if !more {
			return b.String()
		}
		optional, after, _ := strings.Cut(rest, "]")
		if text, whole := substitute(optional, value); whole {
			b.WriteString(text)
		}
		template = after
	}
}

// substitute fills in the names of one part; whole is false if one is empty.
func substitute(text string, value func(name string) string) (filled string, whole bool) {
	var b strings.Builder
	whole = true
	for {
		before, rest, found := strings.Cut(text, "{")
		b.WriteString(before)
		if !found {
			return b.String(), whole
		}
		name, after, _ := strings.Cut(rest, "}")
		v := value(name)
		whole = whole && v != ""
		b.WriteString(v)
		text = after
	}
}
