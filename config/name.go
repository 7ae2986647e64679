package config

import (
	"regexp"
	"strings"

	"heaterd/ingest/topic"
)

const idAllowed = "1 to 64 letters, digits, dots, underscores and hyphens"

var idShape = regexp.MustCompile(`^[A-Za-z0-9._-]{1,64}$`)

// id gives an identifier that is safe in addresses, topics and labels; empty
// when it was left out or is none.
func (v value) id() string {
	raw, ok := v.scalar(idAllowed+" (in quotes if it looks like a number)", "!!str")
	if !ok {
		return ""
	}
	// A dot or two alone would be a step in an address.
	if !idShape.MatchString(raw) || strings.Trim(raw, ".") == "" {
		v.fail(idAllowed, "found %q", clip(raw))
		return ""
	}
	return raw
}

// nodeID gives a node's name: it need not be one of ours, but it must fit
// one topic level.
func (v value) nodeID() string {
	const allowed = "1 to 64 bytes that fit one topic level: no /, +, #, control characters or those that turn the direction of text"
	raw, ok := v.scalar(allowed+" (in quotes if it looks like a number)", "!!str")
	if !ok {
		return ""
	}
	if topic.ValidNode(raw) != nil {
		v.fail(allowed, "found %q", clip(raw))
		return ""
	}
	return raw
}

// names notices a name that was already used.
type names map[string]int

// claim reports a second use of name; an empty one was already complained
// about.
func (n names) claim(v value, what, name string) {
	if name == "" {
		return
	}
	if line, taken := n[name]; taken {
		v.fail("each "+what+" once", "%q is already used at line %d", name, line)
		return
	}
	n[name] = v.at.Line
}
