package config

import (
	"bytes"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"
)

// syntaxCause is a complaint of the YAML library in the words of someone who
// writes such a file.
type syntaxCause struct {
	library, message, allowed string
	place                     syntaxPlace
}

// syntaxPlace says what the library's line is to the mistake.
type syntaxPlace int

const (
	itself syntaxPlace = iota // the line of the mistake
	above                     // the line before the one where a bracket is opened
	below                     // the line before a table or list in which the mistake is further down
)

const (
	noKeyHere   = "mapping values are not allowed in this context"
	inOneColumn = "the keys of one table in one column; those of a list's item two columns to the right of its hyphen"
	inQuotes    = "such a text in quotes"
)

var syntaxCauses = []syntaxCause{
	{"did not find expected '-' indicator", "this line fits neither the list above it nor the table around that", inOneColumn, below},
	{"did not find expected key", "this line fits none of the tables above it", inOneColumn, below},
	{noKeyHere, "a colon where there can be no key",
		inOneColumn + "; a space after the colon of each; a text that holds a colon in quotes", itself},
	{"could not find expected ':'", "a key without its colon", "key: value, with a space after the colon", itself},
	{"block sequence entries are not allowed in this context", "a list where there can be none", "a list on lines of its own below its key", itself},
	{"found unexpected end of stream", "a quotation that is not closed", "a quotation mark at its end too", itself},
	{"found character that cannot start any token", "a word that begins with @, % or a backquote", inQuotes, itself},
	{"did not find expected ',' or '}'", "a { that is not closed, or a comma that is missing", "{ key: value, key: value }", above},
	{"did not find expected ',' or ']'", "a [ that is not closed, or a comma that is missing", "[ item, item ]", above},
}

// maxSearched bounds the files in which a mistake is searched for, bytes: each
// step of the search reads a part of the file again.
const maxSearched = 256 << 10

var libraryLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?(?s:(.*))$`)

// syntaxProblem places an error of the YAML library. The library names a
// line only, so the column is where that line's text begins; a tab in the
// indentation, the usual cause, is found exactly.
func syntaxProblem(file string, data []byte, err error) *Problem {
	m := libraryLine.FindStringSubmatch(err.Error())
	if m == nil {
		return &Problem{File: file, Line: 1, Column: 1, Message: "not YAML: " + err.Error()}
	}
	named, _ := strconv.Atoi(m[1])
	if p := knownCause(data, m[2], named); p != nil {
		p.File = file
		return p
	}
	p := &Problem{File: file, Line: named, Message: "not YAML: " + m[2]}
	for _, c := range syntaxCauses {
		if c.library == m[2] {
			p.Message, p.Allowed = c.message, c.allowed
			p.Line = c.line(data, named)
		}
	}
	p.Line = min(max(p.Line, 1), bytes.Count(data, []byte("\n"))+1)
	p.Column = textColumn(data, p.Line)
	return p
}

// line gives the line of the mistake, from the one that the library names.
func (c syntaxCause) line(data []byte, named int) int {
	switch {
	case c.place == below && len(data) <= maxSearched:
		return firstWrong(data, c.library)
	case c.place == itself:
		return named
	}
	return named + 1
}

// firstWrong gives the line at which the library begins to complain in these
// words. What comes after it makes no difference to a table or list that is
// written by indentation.
func firstWrong(data []byte, complaint string) int {
	var ends []int
	for line := range bytes.Lines(data) {
		last := 0
		if len(ends) > 0 {
			last = ends[len(ends)-1]
		}
		ends = append(ends, last+len(line))
	}
	return 1 + sort.Search(len(ends), func(i int) bool {
		_, err := nextDocument(yaml.NewDecoder(bytes.NewReader(data[:ends[i]])))
		return err != nil && strings.HasSuffix(err.Error(), complaint)
	})
}

var anchorMessage = regexp.MustCompile(`^unknown anchor '(.*)' referenced$`)

// closeColon is a key whose colon has no space behind it, which makes it a
// text; the library complains about the colon of the next key.
var closeColon = regexp.MustCompile(`^ *(?:- +)?[A-Za-z0-9_]+:[^ :/]`)

// knownCause places the mistakes that can be found exactly.
func knownCause(data []byte, message string, named int) *Problem {
	if lines := strings.Split(string(data), "\n"); message == noKeyHere && named > 1 && named <= len(lines) && closeColon.MatchString(lines[named-2]) {
		return &Problem{Line: named - 1, Column: textColumn(data, named-1), Message: "no space after the colon of a key", Allowed: "key: value"}
	}
	if m := anchorMessage.FindStringSubmatch(message); m != nil {
		if at := bytes.Index(data, []byte("*"+m[1])); at >= 0 {
			line, column := position(data, at)
			return &Problem{Line: line, Column: column, Message: "nothing is called &" + clip(m[1]), Allowed: "an anchor from further up"}
		}
	}
	if !strings.Contains(message, "tab") && !strings.Contains(message, "cannot start any token") {
		return nil
	}
	if line, column, found := indentingTab(data); found {
		return &Problem{Line: line, Column: column, Message: "a tab in the indentation", Allowed: "spaces only"}
	}
	return nil
}

func indentingTab(data []byte) (line, column int, found bool) {
	for i, text := range strings.Split(string(data), "\n") {
		lead := text[:len(text)-len(strings.TrimLeft(text, " \t"))]
		if at := strings.IndexByte(lead, '\t'); at >= 0 && strings.TrimSpace(text) != "" {
			return i + 1, at + 1, true
		}
	}
	return 0, 0, false
}

func textColumn(data []byte, line int) int {
	text := strings.Split(string(data), "\n")[line-1]
	return len(text) - len(strings.TrimLeft(text, " ")) + 1
}
