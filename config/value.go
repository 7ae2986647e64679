package config

import (
	"fmt"

	"gopkg.in/yaml.v3"
)

// maxAliases bounds how often an alias is followed, so that a short file of
// aliases to aliases cannot become an endless one.
const maxAliases = 200

// reader walks one document and gathers what is wrong with it.
type reader struct {
	file     string
	opts     Options
	problems []Problem // what makes the file wrong
	warnings []Problem // what is doubtful
	missing  []Problem // secrets that could not be read
	aliases  int
	asked    map[string]bool // every key asked for, without list positions
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
	p := Problem{File: v.r.file, Line: 1, Column: 1, Path: v.path, Message: fmt.Sprintf(format, args...), Allowed: allowed}
	if v.at != nil {
		p.Line, p.Column = max(v.at.Line, 1), max(v.at.Column, 1)
	}
	return p
}

// fail reports a complaint that makes the file wrong.
func (v value) fail(allowed, format string, args ...any) {
	v.r.problems = append(v.r.problems, v.problem(allowed, format, args...))
}

// warn reports a doubt.
func (v value) warn(allowed, format string, args ...any) {
	v.r.warnings = append(v.r.warnings, v.problem(allowed, format, args...))
}

// wrongType reports that something of another kind stands there.
func (v value) wrongType(allowed string) {
	v.fail(allowed, "found %s", describe(v.node))
}

// resolve follows an alias to what it stands for.
func (v value) resolve() value {
	for v.node != nil && v.node.Kind == yaml.AliasNode {
		if v.r.aliases++; v.r.aliases > maxAliases {
			if v.r.aliases == maxAliases+1 {
				v.fail(fmt.Sprintf("at most %d aliases in a file", maxAliases), "too many aliases (*%s)", clip(v.node.Value))
			}
			v.node = nil
			return v
		}
		v.node = v.node.Alias
	}
	return v
}

// list gives the items of a list; none when it was left out or is no list.
func (v value) list(allowed string) []value {
	if !v.given() {
		return nil
	}
	if v.node.Kind != yaml.SequenceNode {
		v.wrongType("a list of " + allowed)
		return nil
	}
	items := make([]value, len(v.node.Content))
	for i, n := range v.node.Content {
		item := value{r: v.r, node: n, at: n, path: fmt.Sprintf("%s[%d]", v.path, i), kind: v.kind + "[]"}
		items[i] = item.resolve()
	}
	return items
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

// clip keeps a quoted value short enough for a line.
func clip(s string) string {
	const most = 60
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return s
}
