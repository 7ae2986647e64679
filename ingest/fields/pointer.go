package fields

import (
	"fmt"
	"strconv"
	"strings"

	"heaterd/ingest/reading"
	"heaterd/ingest/scan"
)

// step is a place in a document that pointers lead to or through.
type step struct {
	targets []int // which pointers end here
	next    []branch
}

type branch struct {
	token string
	index int // as an array index; -1 if the token is none
	step  *step
}

// add makes the way of a pointer that finds target.
func (s *step) add(pointer string, target int) error {
	if pointer != "" && pointer[0] != '/' {
		return fmt.Errorf("the pointer %q must be empty or begin with /", pointer)
	}
	if pointer != "" {
		for token := range strings.SplitSeq(pointer[1:], "/") {
			plain, err := unescape(token)
			if err != nil {
				return err
			}
			s = s.child(plain)
		}
	}
	s.targets = append(s.targets, target)
	return nil
}

// unescape resolves ~1 and ~0 (RFC 6901 section 4), in that order.
func unescape(token string) (string, error) {
	rest := strings.NewReplacer("~0", "", "~1", "").Replace(token)
	if strings.Contains(rest, "~") {
		return "", fmt.Errorf("the pointer part %q has a ~ that is neither ~0 nor ~1", token)
	}
	return strings.NewReplacer("~1", "/", "~0", "~").Replace(token), nil
}

func (s *step) child(token string) *step {
	for _, b := range s.next {
		if b.token == token {
			return b.step
		}
	}
	b := branch{token: token, index: arrayIndex(token), step: &step{}}
	s.next = append(s.next, b)
	return b.step
}

// arrayIndex reads digits without a leading zero (RFC 6901 section 4).
func arrayIndex(token string) int {
	n, err := strconv.Atoi(token)
	if err != nil || n < 0 || strconv.Itoa(n) != token {
		return -1
	}
	return n
}

// walk passes over one value and puts the texts the pointers lead to in found.
func (s *step) walk(text *scan.Scanner, found [][]byte) error {
	if len(s.targets) == 0 {
		return s.walkInto(text, found)
	}
	at := *text
	raw, err := text.Raw()
	if err != nil {
		return err
	}
	for _, t := range s.targets {
		found[t] = raw
	}
	if len(s.next) == 0 {
		return nil
	}
	return s.walkInto(&at, found) // other pointers lead further in
}

func (s *step) walkInto(text *scan.Scanner, found [][]byte) error {
	if len(s.next) > 0 {
		switch text.Peek() {
		case '{':
			return s.walkObject(text, found)
		case '[':
			return s.walkArray(text, found)
		}
	}
	return text.Skip()
}

func (s *step) walkObject(text *scan.Scanner, found [][]byte) error {
	if err := text.Object(); err != nil {
		return err
	}
	seen := make([]bool, len(s.next))
	for {
		key, more, err := text.Key()
		if !more || err != nil {
			return err
		}
		i := s.named(key)
		if i < 0 {
			err = text.Skip()
		} else if seen[i] {
			return &reading.Refusal{Reason: reading.BadField, Where: "byte " + strconv.Itoa(text.Offset()), Detail: fmt.Sprintf("found the key %q twice, allowed: once", key)}
		} else {
			seen[i] = true
			err = s.next[i].step.walk(text, found)
		}
		if err != nil {
			return err
		}
	}
}

func (s *step) named(key []byte) int {
	for i := range s.next {
		if s.next[i].token == string(key) {
			return i
		}
	}
	return -1
}

func (s *step) walkArray(text *scan.Scanner, found [][]byte) error {
	if err := text.Array(); err != nil {
		return err
	}
	for i := 0; ; i++ {
		more, err := text.Element()
		if !more || err != nil {
			return err
		}
		if err := s.element(i).walk(text, found); err != nil {
			return err
		}
	}
}

// nowhere passes over what no pointer leads to.
var nowhere = &step{}

func (s *step) element(i int) *step {
	for j := range s.next {
		if s.next[j].index == i {
			return s.next[j].step
		}
	}
	return nowhere
}
