package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one complaint about the configuration file.
type Problem struct {
	File    string
	Line    int    // from 1; 0: about the file as a whole
	Column  int    // in characters, from 1
	Path    string // the key, as in sites[0].spaces[1].volume_m3; empty: the whole file
	Message string // what was found
	Allowed string // what would be right; may be empty
}

// String gives the problem on one line: file:line:col: path: message; allowed: ….
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", p.Line, p.Column)
	}
	if p.Path != "" {
		b.WriteString(": " + p.Path)
	}
	b.WriteString(": " + p.Message)
	if p.Allowed != "" {
		b.WriteString("; allowed: " + p.Allowed)
	}
	return b.String()
}

// Errors is everything wrong with a configuration file, in file order.
type Errors struct{ Problems []Problem }

// Error gives one problem a line.
func (e *Errors) Error() string {
	lines := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// inFileOrder sorts problems and drops what was said twice of one place.
func inFileOrder(ps []Problem) []Problem {
	said := map[Problem]bool{}
	ps = slices.DeleteFunc(ps, func(p Problem) bool {
		again := said[p]
		said[p] = true
		return again
	})
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return ps
}
