package wording

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// clean makes s one line that is safe in a header: control, format and line
// separating characters become spaces, runs of space become one.
func clean(s string) string { return without(s, unsafe) }

// neat is clean for a text whose parts are clean: names in it stay isolated.
func neat(s string) string {
	return without(s, func(r rune) bool { return unsafe(r) && r != isolateFrom && r != isolateTo })
}

func without(s string, bad func(rune) bool) string {
	s = strings.Map(func(r rune) rune {
		if bad(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return strings.Join(strings.Fields(s), " ")
}

func unsafe(r rune) bool {
	return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp)
}

// lines cleans a text of several lines and drops the empty ones.
func lines(s string) []string {
	var out []string
	for line := range strings.Lines(strings.ReplaceAll(s, "\r", "\n")) {
		if line = clean(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// sentences writes lines one after the other, each ended.
func sentences(all []string) string {
	var b strings.Builder
	for i, s := range all {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(s)
		if !strings.ContainsAny(s[len(s)-1:], ".!?:;,") {
			b.WriteByte('.')
		}
	}
	return b.String()
}

// begun writes each line with a capital and a full stop, as the lines around it.
func begun(all []string) []string {
	var out []string
	for _, s := range all {
		r, n := utf8.DecodeRuneInString(s)
		s = string(unicode.ToUpper(r)) + s[n:]
		if !strings.ContainsAny(s[len(s)-1:], ".!?") {
			s += "."
		}
		out = append(out, s)
	}
	return out
}

// clip shortens s to n characters, the last three of them dots.
func clip(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRight(string(r[:max(n-3, 0)]), " ") + "..."
}

// plainLetters are the letters of European names in the letters every phone
// shows and a short message counts once (the basic set of 3GPP TS 23.038
// without its shifted half).
var plainLetters = strings.NewReplacer(plainPairs()...)

func plainPairs() []string {
	pairs := []string{
		"ß", "ss", "æ", "ae", "Æ", "AE", "œ", "oe", "Œ", "OE", "þ", "th", "Þ", "Th", "°", "", "–", "-", "—", "-",
		"’", "'", "‘", "'", "“", "\"", "”", "\"", "…", "...", "`", "'", "[", "(", "]", ")", "{", "(", "}", ")",
		"\\", "/", "^", "-", "~", "-", "|", "/", "€", "EUR",
	}
	for _, row := range []string{
		"aàáâãäåāăą", "AÀÁÂÃÄÅĀĂĄ", "cçćčĉ", "CÇĆČĈ", "dďđð", "DĎĐÐ", "eèéêëēęě", "EÈÉÊËĒĘĚ", "gğģĝ", "GĞĢĜ",
		"iìíîïīıį", "IÌÍÎÏĪİĮ", "lłľļĺ", "LŁĽĻĹ", "nñńňņ", "NÑŃŇŅ", "oòóôõöøōő", "OÒÓÔÕÖØŌŐ", "rřŕ", "RŘŔ",
		"sśšşș", "SŚŠŞȘ", "tťţț", "TŤŢȚ", "uùúûüūůűų", "UÙÚÛÜŪŮŰŲ", "yýÿ", "YÝŸ", "zźżž", "ZŹŻŽ",
	} {
		base := row[:1]
		for _, letter := range row[1:] {
			pairs = append(pairs, string(letter), base)
		}
	}
	return pairs
}

// ascii writes s in plain letters; ok is false if some had no plain form and
// became a question mark.
func ascii(s string) (plain string, ok bool) {
	ok = true
	plain = strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			ok = false
			return '?'
		}
		return r
	}, plainLetters.Replace(s))
	return plain, ok
}

// spoken is the name in plain letters, or the id where the name has none.
func spoken(name, id string) string {
	if plain, ok := ascii(name); ok {
		return plain
	}
	plain, _ := ascii(id)
	return plain
}
