package wording

import "strings"

// A template is a text with {names} to fill in. A part in [brackets] is left
// out when any name in it is empty; brackets do not nest.

// parts splits a template into its plain and its optional parts, in turn.
func parts(template string) []string {
	return strings.FieldsFunc(strings.ReplaceAll(template, "[", "]\x00"), func(r rune) bool { return r == ']' })
}

// fill writes a template with the values of the names.
func fill(template string, value func(name string) string) string {
	var b strings.Builder
	for _, part := range parts(template) {
		text, optional := strings.CutPrefix(part, "\x00")
		filled, whole := substitute(text, value)
		if whole || !optional {
			b.WriteString(filled)
		}
	}
	return b.String()
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
