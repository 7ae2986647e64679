package topic

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxBytes is the longest topic or filter (MQTT 3.1.1 section 1.5.3: strings
// carry a two-byte length).
const maxBytes = 65535

// maxNodeBytes is the longest name of a node; see reading.NodeID.
const maxNodeBytes = 64

// Match reports whether filter takes topic. Filter must be valid; a topic
// that is empty or holds wildcards is taken by none.
func Match(filter, topic string) bool {
	if topic == "" || filter == "" || holdsWildcard(topic) {
		return false
	}
	if topic[0] == '$' && filter[0] != '$' { // [MQTT-4.7.2-1]
		return false
	}
	for {
		want, restFilter, moreFilter := strings.Cut(filter, "/")
		if want == "#" {
			return true
		}
		have, restTopic, moreTopic := strings.Cut(topic, "/")
		if want != "+" && want != have {
			return false
		}
		if !moreTopic {
			return !moreFilter || restFilter == "#" // "a/#" takes its parent "a"
		}
		if !moreFilter {
			return false
		}
		filter, topic = restFilter, restTopic
	}
}

// holdsWildcard is three byte searches, which the machine does faster than one
// search for three bytes.
func holdsWildcard(topic string) bool {
	return strings.IndexByte(topic, '+') >= 0 || strings.IndexByte(topic, '#') >= 0 || strings.IndexByte(topic, 0) >= 0
}

// Level gives level n of topic, counted from 1; false if there are fewer.
func Level(topic string, n int) (string, bool) {
	for ; n > 1; n-- {
		_, rest, more := strings.Cut(topic, "/")
		if !more {
			return "", false
		}
		topic = rest
	}
	level, _, _ := strings.Cut(topic, "/")
	return level, n == 1
}

// Levels counts the levels of a topic or filter.
func Levels(topic string) int { return strings.Count(topic, "/") + 1 }

// ValidFilter says what is wrong with a filter, nil if nothing.
func ValidFilter(filter string) error {
	switch {
	case filter == "":
		return errors.New("a topic filter may not be empty")
	case len(filter) > maxBytes:
		return fmt.Errorf("a topic filter may have %d bytes, found %d", maxBytes, len(filter))
	case !utf8.ValidString(filter) || strings.ContainsRune(filter, 0):
		return errors.New("a topic filter must be UTF-8 without the zero character")
	}
	levels := strings.Split(filter, "/")
	for i, level := range levels {
		if len(level) > 1 && strings.ContainsAny(level, "+#") {
			return fmt.Errorf("level %d of the topic filter is %q: + and # must stand alone", i+1, level)
		}
		if level == "#" && i < len(levels)-1 {
			return fmt.Errorf("level %d of the topic filter is #, which must be the last", i+1)
		}
	}
	return nil
}

// Turns reports whether a character turns the direction of what is written
// after it, past the end of a name (Unicode Standard Annex 9, the embeddings,
// overrides and isolates).
func Turns(r rune) bool { return r >= '\u202a' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069' }

// ValidNode says what is wrong with the name of a node, nil if nothing. A
// name is UTF-8 of 1 to 64 bytes without control characters, those that turn
// the direction of text, +, # or /.
func ValidNode(name string) error {
	switch {
	case name == "":
		return errors.New("the name of a node may not be empty")
	case len(name) > maxNodeBytes:
		return fmt.Errorf("the name of a node may have %d bytes, found %d", maxNodeBytes, len(name))
	case !utf8.ValidString(name):
		return errors.New("the name of a node must be UTF-8")
	}
	for _, r := range name {
		if unicode.IsControl(r) || Turns(r) || strings.ContainsRune("+#/", r) {
			return fmt.Errorf("the name of a node may not hold %+q", r)
		}
	}
	return nil
}
