package config

import (
	"fmt"

	"gopkg.in/yaml.v3"
)

const (
	// maxRepeated bounds the values that aliases repeat, so that a short file
	// of aliases to aliases cannot become an endless one.
	maxRepeated = 20_000
	// maxSaid bounds the problems listed, and the warnings; nobody reads more.
	maxSaid = 1000
)

// reader walks one document and gathers what is wrong with it.
type reader struct {
	file     string
	opts     Options
	problems []Problem       // what makes the file wrong
	warnings []Problem       // what is doubtful
	missing  []Problem       // secrets that could not be read
	unfit    []Problem       // certificates that could not be used
	repeated int             // values that aliases repeated so far
	asked    map[string]bool // every key asked for, without list positions

	strangers []stranger // keys that their tables do not know
}

// value is a place in the document: where it stands, and what stands there.
type value struct {
	r    *reader
	node *yaml.Node // nil: the key was left out
	at   *yaml.Node // what a complaint points to
	path string
	kind string // path without list positions
}

// given reports whether something stands there.
func (v value) given() bool { return v.node != nil }

func (v value) problem(allowed, format string, args ...any) Problem {
	p := Problem{File: v.r.file, Line: 1, Column: 1, Path: v.path, Message: clipTo(fmt.Sprintf(format, args...), maxMessage), Allowed: allowed}
	if v.at != nil {
		p.Line, p.Column = max(v.at.Line, 1), max(v.at.Column, 1)
	}
	return p
}

// fail reports a complaint that makes the file wrong.
func (v value) fail(allowed, format string, args ...any) {
	v.r.problems = v.say(v.r.problems, allowed, format, args...)
}

// warn reports a doubt.
func (v value) warn(allowed, format string, args ...any) {
	v.r.warnings = v.say(v.r.warnings, allowed, format, args...)
}

func (v value) say(said []Problem, allowed, format string, args ...any) []Problem {
	switch {
	case len(said) < maxSaid:
		return append(said, v.problem(allowed, format, args...))
	case len(said) == maxSaid:
		return append(said, v.problem("", "more than %d things to say; the rest is left out", maxSaid))
	}
	return said
}

// wrongType reports that something of another kind stands there.
func (v value) wrongType(allowed string) {
	v.fail(allowed, "found %s", describe(v.node))
}

// resolve follows an alias to what it stands for.
func (v value) resolve() value {
	for v.node != nil && v.node.Kind == yaml.AliasNode {
		if v.r.repeated <= maxRepeated {
			v.r.repeated += size(v.node.Alias, maxRepeated+1)
			if v.r.repeated > maxRepeated {
				v.fail(fmt.Sprintf("at most %d values repeated by aliases", maxRepeated), "too much is repeated (*%s)", clip(v.node.Value))
			}
		}
		if v.r.repeated > maxRepeated {
			v.node = nil
			return v
		}
		v.node = v.node.Alias
	}
	return v
}

// size counts the values beneath n and n itself, giving up at most.
func size(n *yaml.Node, most int) int {
	count := 1
	for _, c := range n.Content {
		if count >= most {
			break
		}
		count += size(c, most-count)
	}
	return count
}

// list gives the items of a list; none when it was left out or is no list.
func (v value) list(allowed string) []value {
	if !v.given() {
		return nil
	}
	if v.node.Kind != yaml.SequenceNode {
		v.noList(allowed)
		return nil
	}
	items := make([]value, len(v.node.Content))
	for i, n := range v.node.Content {
		item := value{r: v.r, node: n, at: n, path: fmt.Sprintf("%s[%d]", v.path, i), kind: v.kind + "[]"}
		items[i] = item.resolve()
	}
	return items
}

// noList reports that something else than a list stands there, and how a list
// is written.
func (v value) noList(allowed string) {
	how := "in brackets or with a hyphen before each"
	if v.node.Kind == yaml.MappingNode {
		how = "with a hyphen before each"
	}
	v.wrongType(fmt.Sprintf("a list of %s, %s", allowed, how))
}

// some is list where an empty one is a mistake.
func (v value) some(allowed, atLeast string) []value {
	if v.given() && v.node.Kind == yaml.SequenceNode && len(v.node.Content) == 0 {
		v.fail(atLeast, "found an empty list")
	}
	return v.list(allowed)
}

// describe names what stands in the file in the words of someone who wrote it.
func describe(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a table of keys"
	case yaml.SequenceNode:
		return "a list"
	}
	switch n.ShortTag() {
	case "!!null":
		return "nothing"
	case "!!bool":
		return "the yes-or-no value " + clip(n.Value)
	case "!!int", "!!float":
		return "the number " + clip(n.Value)
	}
	return fmt.Sprintf("the text %q", clip(n.Value))
}

const (
	maxQuoted  = 60  // characters of a value in a message
	maxMessage = 300 // characters of a message
)

// clip keeps a quoted value short enough for a line.
func clip(s string) string { return clipTo(s, maxQuoted) }

func clipTo(s string, most int) string {
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return s
}
