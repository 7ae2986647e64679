package scan_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"heaterd/ingest/reading"
	"heaterd/ingest/scan"
)

const depth = 64

// tree reads one value with every method of the scanner.
func tree(s *scan.Scanner) (any, error) {
	switch s.Peek() {
	case '{':
		return object(s)
	case '[':
		return array(s)
	case '"':
		b, err := s.Text()
		return string(b), err
	case 't', 'f':
		return s.Bool()
	case 'n':
		return nil, s.Null()
	}
	return s.Number()
}

func object(s *scan.Scanner) (any, error) {
	out := map[string]any{}
	if err := s.Object(); err != nil {
		return nil, err
	}
	for {
		key, more, err := s.Key()
		if !more || err != nil {
			return out, err
		}
		v, err := tree(s)
		if err != nil {
			return nil, err
		}
		out[string(key)] = v
	}
}

func array(s *scan.Scanner) (any, error) {
	out := []any{}
	if err := s.Array(); err != nil {
		return nil, err
	}
	for {
		more, err := s.Element()
		if !more || err != nil {
			return out, err
		}
		v, err := tree(s)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
}

func read(text []byte) (any, error) {
	s := scan.New(text, depth)
	v, err := tree(&s)
	if err == nil {
		err = s.End()
	}
	return v, err
}

func skip(text []byte) error {
	s := scan.New(text, depth)
	raw, err := s.Raw()
	if err == nil {
		err = s.End()
	}
	if err == nil && !bytes.Equal(bytes.Trim(text, " \t\r\n"), raw) {
		return errors.New("Raw is not the text")
	}
	return err
}

// same checks the scanner against encoding/json on one text.
func same(t *testing.T, text []byte) {
	t.Helper()
	got, err := read(text)
	if err != nil {
		var r *reading.Refusal
		if !errors.As(err, &r) {
			t.Fatalf("%q: error %v is no refusal", text, err)
		}
		if r.Reason == reading.TooLarge || !utf8.Valid(text) {
			return
		}
	}
	var want any
	wantErr := json.Unmarshal(text, &want)
	if (err == nil) != (wantErr == nil) {
		t.Fatalf("%q: got %v, encoding/json %v", text, err, wantErr)
	}
	if err == nil && !reflect.DeepEqual(got, want) {
		t.Fatalf("%q: got %#v, encoding/json %#v", text, got, want)
	}
	if (skip(text) == nil) != json.Valid(text) {
		t.Fatalf("%q: Skip %v, json.Valid %v", text, skip(text), json.Valid(text))
	}
}

var texts = []string{
	``, ` `, `0`, `-0`, `01`, `-`, `1.`, `.5`, `1e`, `1e+`, `1e5`, `1E-5`, `1e400`, `-1e400`, `1e-400`, `4.9e-324`,
	`9007199254740993`, `123456789012345678901234567890`, `0.1`, `1.276020076001e+09`, `1e22`, `1e23`, `1.7976931348623157e308`,
	`99999999999999999`, `1000000000000000000000000e-24`, `1e99999999999999999999`, `0e99999999999999999999`,
	`0.00000000000000000000000000000000000000000000000001`, `123456789.123456789123456789`,
	`true`, `tru`, `truex`, `false`, `null`, `nul`, `"a"`, `"a`, `"\"`, `"\n\t\b\f\r\/\\\""`, `"\u00e9"`, `"\ud83d\ude00"`,
	`"\ud83d"`, `"\ud83d\u0041"`, `"\ude00\ud83d"`, `"\u12"`, `"\x"`, "\"\x01\"", "\"\xff\"", `"é"`, `[]`, `[1]`, `[1,]`, `[,1]`, `[1 2]`,
	`{}`, `{"a":1}`, `{"a":1,}`, `{a:1}`, `{"a" 1}`, `{"a":}`, `{"a":1 "b":2}`, `[{"a":[{}]}]`, `[1]]`, `[1] x`, ` [ 1 , 2 ] `, "[1]\x00",
	`{"a":1}}`, `[}`, `{]`, `[1}`, `{"a":1]`, "\xef\xbb\xbf[]",
}

func TestReadsWhatEncodingJSONReads(t *testing.T) {
	for _, text := range texts {
		same(t, []byte(text))
	}
}

func FuzzSame(f *testing.F) {
	for _, text := range texts {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) { same(t, text) })
}

func TestDepth(t *testing.T) {
	ok := strings.Repeat("[", depth) + strings.Repeat("]", depth)
	if _, err := read([]byte(ok)); err != nil {
		t.Errorf("at the limit: %v", err)
	}
	var r *reading.Refusal
	err := skip([]byte(strings.Repeat("[", 1<<20)))
	if !errors.As(err, &r) || r.Reason != reading.TooLarge {
		t.Errorf("a million levels: got %v, want %s", err, reading.TooLarge)
	}
}

func TestErrorsSayWhere(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{`{"a":1 "b":2}`, `syntax at byte 7: found "\"", expected a comma or '}'`},
		{`[1`, `syntax at byte 2: found the end of the text, expected a comma or ']'`},
		{`[1e400]`, `range at byte 6: found a number over 1.8e308`},
	} {
		if _, err := read([]byte(c.text)); err == nil || err.Error() != c.want {
			t.Errorf("%s: got %v, want %s", c.text, err, c.want)
		}
	}
}
