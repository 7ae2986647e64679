package scan

import (
	"fmt"
	"strconv"

	"heaterd/ingest/reading"
)

// Scanner is a place in a JSON text. Errors are *reading.Refusal: BadSyntax
// for what is not JSON, BadField for a value of another kind than asked for,
// BadRange for a number no float64 can hold, TooLarge for nesting over the
// limit. After an error the scanner must not be used again.
type Scanner struct {
	text  []byte
	at    int
	depth int
	max   int
	first bool // a container was just opened: no comma before its next member
}

// New starts at the beginning of text, which must not change while it is
// read. Objects and arrays may nest maxDepth deep.
func New(text []byte, maxDepth int) Scanner { return Scanner{text: text, max: maxDepth} }

// Offset tells how many bytes were read.
func (s *Scanner) Offset() int { return s.at }

// Peek gives the first byte of what comes next, white space passed over; 0 at
// the end.
func (s *Scanner) Peek() byte {
	for s.at < len(s.text) {
		switch c := s.text[s.at]; c {
		case ' ', '\t', '\n', '\r':
			s.at++
		default:
			return c
		}
	}
	return 0
}

// Object steps into an object.
func (s *Scanner) Object() error { return s.open('{') }

// Array steps into an array.
func (s *Scanner) Array() error { return s.open('[') }

// Key reads the next key of the object stepped into; false when the object
// has ended, which also steps out of it.
func (s *Scanner) Key() ([]byte, bool, error) {
	more, err := s.member('}')
	if !more || err != nil {
		return nil, false, err
	}
	if s.Peek() != '"' {
		return nil, false, s.unexpected("a key in double quotes")
	}
	key, err := s.Text()
	if err != nil {
		return nil, false, err
	}
	if s.Peek() != ':' {
		return nil, false, s.unexpected("a colon after the key")
	}
	s.at++
	return key, true, nil
}

// Element reports whether the array stepped into has a next element; false
// also steps out of it.
func (s *Scanner) Element() (bool, error) { return s.member(']') }

// Bool reads true or false.
func (s *Scanner) Bool() (bool, error) {
	switch s.Peek() {
	case 't':
		return true, s.word("true")
	case 'f':
		return false, s.word("false")
	}
	return false, s.wrongKind("true or false")
}

// Null reads null.
func (s *Scanner) Null() error {
	if s.Peek() != 'n' {
		return s.wrongKind("null")
	}
	return s.word("null")
}

// Skip passes over one value of any kind and checks that it is JSON.
func (s *Scanner) Skip() error {
	switch c := s.Peek(); c {
	case '{':
		return s.skipObject()
	case '[':
		return s.skipArray()
	case '"':
		_, err := s.quoted()
		return err
	case 't', 'f':
		_, err := s.Bool()
		return err
	case 'n':
		return s.Null()
	default:
		_, err := s.number()
		return err
	}
}

// Raw passes over one value of any kind and gives its text.
func (s *Scanner) Raw() ([]byte, error) {
	s.Peek()
	start := s.at
	if err := s.Skip(); err != nil {
		return nil, err
	}
	return s.text[start:s.at], nil
}

// End checks that nothing but white space is left.
func (s *Scanner) End() error {
	if s.Peek() != 0 || s.at < len(s.text) {
		return s.unexpected("the end")
	}
	return nil
}

func (s *Scanner) open(bracket byte) error {
	if s.Peek() != bracket {
		return s.wrongKind(kindOf(bracket))
	}
	if s.depth++; s.depth > s.max {
		return s.refuse(reading.TooLarge, fmt.Sprintf("found nesting deeper than %d levels", s.max))
	}
	s.at++
	s.first = true
	return nil
}

// member gets in front of the next member of a container that ends in
// bracket, or behind the bracket.
func (s *Scanner) member(bracket byte) (bool, error) {
	c := s.Peek()
	first := s.first
	s.first = false
	switch {
	case c == bracket:
		s.at++
		s.depth--
		return false, nil
	case first:
		return true, nil
	case c == ',':
		s.at++
		return true, nil
	}
	return false, s.unexpected("a comma or '" + string(rune(bracket)) + "'")
}

func (s *Scanner) skipObject() error {
	if err := s.Object(); err != nil {
		return err
	}
	for {
		_, more, err := s.Key()
		if !more || err != nil {
			return err
		}
		if err := s.Skip(); err != nil {
			return err
		}
	}
}

func (s *Scanner) skipArray() error {
	if err := s.Array(); err != nil {
		return err
	}
	for {
		more, err := s.Element()
		if !more || err != nil {
			return err
		}
		if err := s.Skip(); err != nil {
			return err
		}
	}
}

func (s *Scanner) word(w string) error {
	if len(s.text)-s.at < len(w) || string(s.text[s.at:s.at+len(w)]) != w {
		return s.unexpected(w)
	}
	s.at += len(w)
	return nil
}

func (s *Scanner) refuse(reason reading.Reason, detail string) error {
	return &reading.Refusal{Reason: reason, Where: "byte " + strconv.Itoa(s.at), Detail: detail}
}

func (s *Scanner) unexpected(want string) error {
	return s.refuse(reading.BadSyntax, "found "+s.found()+", expected "+want)
}

// wrongKind refuses a value that is not of the kind asked for; what starts no
// value at all is bad syntax.
func (s *Scanner) wrongKind(want string) error {
	kind := kindOf(s.Peek())
	if kind == "" {
		return s.unexpected(want)
	}
	return s.refuse(reading.BadField, "found "+kind+", expected "+want)
}

func (s *Scanner) found() string {
	if s.at >= len(s.text) {
		return "the end of the text"
	}
	return strconv.QuoteToASCII(string(s.text[s.at : s.at+1]))
}

func kindOf(first byte) string {
	switch {
	case first == '{':
		return "an object"
	case first == '[':
		return "an array"
	case first == '"':
		return "a string"
	case first == 't', first == 'f':
		return "true or false"
	case first == 'n':
		return "null"
	case first == '-', first >= '0' && first <= '9':
		return "a number"
	}
	return ""
}
