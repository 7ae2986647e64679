package nearest

import (
	"slices"
	"strings"
	"unicode"
)

// maxCompared bounds the words that a mistyped one is compared with.
const maxCompared = 100

// shortestStem is how many letters make one word the beginning of another.
const shortestStem = 3

// Word gives the known word a mistyped one is likely to mean, or nothing.
// Two slips in a longer word, one in a short one (common practice, no
// source); failing that, the one that begins like it, or of which it is a part.
func Word(word string, known []string) string {
	best, bestSlips := "", 3
	word = plain(word)
	if len(word) > 64 {
		return ""
	}
	for _, k := range known[:min(len(known), maxCompared)] {
		if abs(len(word)-len(k)) >= bestSlips {
			continue
		}
		slips := distance(word, plain(k))
		if slips < bestSlips && slips <= max(1, len(k)/4) {
			best, bestSlips = k, slips
		}
	}
	if best == "" {
		best = sameStem(word, known)
	}
	if best == "" {
		best = samePart(word, known)
	}
	return best
}

// samePart gives the only known word of which word is a part between hyphens;
// failing that, the only one that holds its letters, whatever separates them.
func samePart(word string, known []string) string {
	letters := onlyLetters(word)
	if len(letters) < shortestStem {
		return ""
	}
	part := only(known, func(k string) bool { return slices.Contains(strings.Split(plain(k), "_"), word) })
	if part != "" {
		return part
	}
	return only(known, func(k string) bool { return strings.Contains(onlyLetters(k), letters) })
}

// only gives the one word that fits; nothing where none or several do.
func only(known []string, fits func(string) bool) (found string) {
	for _, k := range known[:min(len(known), maxCompared)] {
		if !fits(k) {
			continue
		}
		if found != "" {
			return ""
		}
		found = k
	}
	return found
}

// onlyLetters drops everything but letters and digits.
func onlyLetters(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, strings.ToLower(s))
}

// sameStem gives the only known word that begins with word or that word
// begins with.
func sameStem(word string, known []string) string {
	return only(known, func(k string) bool {
		stem, longer := word, plain(k)
		if len(stem) > len(longer) {
			stem, longer = longer, stem
		}
		return len(stem) >= shortestStem && strings.HasPrefix(longer, stem)
	})
}

func abs(n int) int { return max(n, -n) }

// plain takes out what people vary in keys without meaning anything by it.
func plain(s string) string {
	return strings.ReplaceAll(strings.ToLower(s), "-", "_")
}

// distance counts the insertions, deletions, replacements and swaps of
// neighbours between two words (Damerau's, restricted).
func distance(a, b string) int {
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			rows[i][j] = step(rows, a, b, i, j)
		}
	}
	return rows[len(a)][len(b)]
}

func step(rows [][]int, a, b string, i, j int) int {
	change := 1
	if a[i-1] == b[j-1] {
		change = 0
	}
	n := min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+change)
	if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
		n = min(n, rows[i-2][j-2]+1)
	}
	return n
}
