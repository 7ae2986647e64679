package rota

import (
	"bytes"
	"fmt"

	ics "github.com/arran4/golang-ical"
)

// What a calendar may be made like at most, for the parser follows it whatever
// it costs. Common practice, no source.
const (
	// maxDepth is how deep parts may lie in one another: a reminder in an event
	// in a calendar lies three deep, and RFC 5545 knows none deeper. The parser
	// wraps what goes wrong at the bottom once for each level, which makes
	// gigabytes of a megabyte.
	maxDepth = 8

	// maxParameters is how many parameters and values of them a line may have.
	// The parser copies the line for each, which takes minutes for a megabyte.
	maxParameters = 1000
)

// bounded refuses a calendar that would cost too much to read. It takes lines
// the way the parser does; what is wrong with one is for the parser to say.
func bounded(body []byte) error {
	lines := ics.NewCalendarStream(bytes.NewReader(body))
	for depth, n := 0, 1; ; n++ {
		l, end := lines.ReadLine()
		if l != nil && parameters(*l) > maxParameters {
			return fmt.Errorf("cannot read the calendar: line %d has more than %d parameters", n, maxParameters)
		}
		if l != nil {
			depth += deeper(*l)
		}
		switch {
		case depth > maxDepth:
			return fmt.Errorf("cannot read the calendar: its parts lie more than %d deep in one another", maxDepth)
		case end != nil:
			return nil
		}
	}
}

// deeper is by how much a line leads deeper.
func deeper(l ics.ContentLine) int {
	p, err := ics.ParseProperty(l)
	switch {
	case err != nil || p == nil:
		return 0
	case p.IANAToken == "BEGIN":
		return 1
	case p.IANAToken == "END":
		return -1
	}
	return 0
}

// parameters counts the parameters of a line and their values, up to the colon
// after which its own value stands. Quotes hide only from the start of a value.
func parameters(l ics.ContentLine) int {
	count, quoted := 0, false
	for i := 0; i < len(l); i++ {
		switch c := l[i]; {
		case c == '\\':
			i++
		case c == '"' && quoted:
			quoted = false
		case c == '"' && i > 0:
			quoted = l[i-1] == '=' || l[i-1] == ','
		case quoted:
		case c == ':':
			return count
		case c == ';' || c == ',':
			count++
		}
	}
	return count
}
