package wording

import (
	"strings"
	"unicode"
)

// The characters that keep a text to itself: what follows is not drawn into it
// (Unicode Standard Annex 9, FSI and PDI).
const isolateFrom, isolateTo = '\u2068', '\u2069'

// Isolated gives a name as it is put among other words. One that runs from
// right to left is kept to itself: a figure behind it would else be drawn before it,
// and two names would change places. Others stay as they are.
func Isolated(name string) string {
	if !strings.ContainsFunc(name, rightToLeft) {
		return name
	}
	return string(isolateFrom) + name + string(isolateTo)
}

// rightToLeft knows the letters of scripts in use that run so.
func rightToLeft(r rune) bool {
	return unicode.In(r, unicode.Arabic, unicode.Hebrew, unicode.Syriac, unicode.Thaana, unicode.Nko, unicode.Adlam, unicode.Hanifi_Rohingya)
}

// ended ends the name that a text was cut short in.
func ended(s string) string {
	if strings.LastIndex(s, string(isolateFrom)) <= strings.LastIndex(s, string(isolateTo)) {
		return s
	}
	return s + string(isolateTo)
}

func cleanName(name string) string { return Isolated(clean(name)) }

func isolatedAll(all []string) []string {
	var out []string
	for _, s := range all {
		out = append(out, Isolated(s))
	}
	return out
}
