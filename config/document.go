package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// maxBytes bounds the file: ten thousand heaters with every key on a line of
// its own take some 3 MiB, and the YAML library takes more than linear time on
// hostile input.
const maxBytes = 4 << 20

const oneDocument = "exactly one YAML document that begins with version: 1"

// readDocument finds the one document in data, or the one problem that keeps
// it from being read at all.
func readDocument(file string, data []byte) (*yaml.Node, *Problem) {
	if p := refuseBytes(file, data); p != nil {
		return nil, p
	}
	dec := yaml.NewDecoder(bytes.NewReader(data))
	doc, err := nextDocument(dec)
	switch {
	case errors.Is(err, io.EOF), err == nil && root(doc) == nil:
		return nil, &Problem{File: file, Line: 1, Column: 1, Message: "the file is empty", Allowed: oneDocument}
	case err != nil:
		return nil, syntaxProblem(file, data, err)
	}
	second, err := nextDocument(dec)
	switch {
	case err == nil:
		return nil, &Problem{File: file, Line: max(second.Line, 1), Column: max(second.Column, 1),
			Message: "a second document begins after ---", Allowed: oneDocument}
	case !errors.Is(err, io.EOF):
		return nil, syntaxProblem(file, data, err)
	}
	return root(doc), nil
}

func refuseBytes(file string, data []byte) *Problem {
	if len(data) > maxBytes {
		return &Problem{File: file, Line: 1, Column: 1, Message: fmt.Sprintf("the file has %d bytes", len(data)),
			Allowed: fmt.Sprintf("at most %d bytes", maxBytes)}
	}
	for at := 0; at < len(data); {
		r, n := utf8.DecodeRune(data[at:])
		if r == utf8.RuneError && n == 1 || r == 0 {
			line, column := position(data, at)
			return &Problem{File: file, Line: line, Column: column,
				Message: fmt.Sprintf("byte 0x%02x is not text", data[at]), Allowed: "UTF-8 text"}
		}
		at += n
	}
	return nil
}

// position gives line and column, in characters from 1, of a byte offset.
func position(data []byte, at int) (line, column int) {
	before := data[:at]
	line = bytes.Count(before, []byte("\n")) + 1
	start := bytes.LastIndexByte(before, '\n') + 1
	return line, utf8.RuneCount(before[start:]) + 1
}

// nextDocument reads one document. The library is no longer maintained and
// panics of its parser have been reported, so one is turned into an error.
func nextDocument(dec *yaml.Decoder) (doc *yaml.Node, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("yaml: cannot be read: %v", r)
		}
	}()
	doc = new(yaml.Node)
	if err := dec.Decode(doc); err != nil {
		return nil, err
	}
	return doc, nil
}

// root gives what a document holds; nil for nothing.
func root(doc *yaml.Node) *yaml.Node {
	if len(doc.Content) == 0 || doc.Content[0].ShortTag() == "!!null" {
		return nil
	}
	return doc.Content[0]
}

var libraryLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?(?s:(.*))$`)

// syntaxProblem places an error of the YAML library. The library names a
// line only, so the column is where that line's text begins; a tab in the
// indentation, the usual cause, is found exactly.
func syntaxProblem(file string, data []byte, err error) *Problem {
	m := libraryLine.FindStringSubmatch(err.Error())
	if m == nil {
		return &Problem{File: file, Line: 1, Column: 1, Message: "not YAML: " + err.Error()}
	}
	if p := knownCause(data, m[2]); p != nil {
		p.File = file
		return p
	}
	line, _ := strconv.Atoi(m[1])
	line = min(max(line, 1), bytes.Count(data, []byte("\n"))+1)
	return &Problem{File: file, Line: line, Column: textColumn(data, line), Message: "not YAML: " + m[2]}
}

var anchorMessage = regexp.MustCompile(`^unknown anchor '(.*)' referenced$`)

// knownCause places the two mistakes that can be found exactly.
func knownCause(data []byte, message string) *Problem {
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
