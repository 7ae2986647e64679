package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
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
