package scan

import (
	"bytes"
	"slices"
	"unicode/utf16"
	"unicode/utf8"

	"heaterd/ingest/reading"
)

// Text reads a string. The result shares the scanned text unless the string
// holds escapes.
func (s *Scanner) Text() ([]byte, error) {
	if s.Peek() != '"' {
		return nil, s.wrongKind("a string")
	}
	raw, err := s.quoted()
	if err != nil || bytes.IndexByte(raw, '\\') < 0 {
		return raw, err
	}
	return unescape(make([]byte, 0, len(raw)), raw), nil
}

// AppendText reads a string and appends it to dst.
func (s *Scanner) AppendText(dst []byte) ([]byte, error) {
	if s.Peek() != '"' {
		return dst, s.wrongKind("a string")
	}
	raw, err := s.quoted()
	if err != nil {
		return dst, err
	}
	return unescape(slices.Grow(dst, len(raw)), raw), nil
}

// quoted passes over a string and gives what stands between the quotes,
// escapes checked but not resolved.
func (s *Scanner) quoted() ([]byte, error) {
	s.at++
	start, ascii := s.at, true
	for s.at < len(s.text) {
		switch c := s.text[s.at]; {
		case c == '"':
			raw := s.text[start:s.at]
			if !ascii && !utf8.Valid(raw) {
				return nil, s.refuse(reading.BadSyntax, "found a string that is not UTF-8")
			}
			s.at++
			return raw, nil
		case c == '\\':
			if err := s.escape(); err != nil {
				return nil, err
			}
		case c < ' ':
			return nil, s.unexpected("no control character in a string")
		default:
			ascii = ascii && c < utf8.RuneSelf
			s.at++
		}
	}
	return nil, s.unexpected("a closing quote")
}

func (s *Scanner) escape() error {
	s.at++
	if s.at >= len(s.text) {
		return s.unexpected("an escape")
	}
	switch s.text[s.at] {
	case '"', '\\', '/', 'b', 'f', 'n', 'r', 't':
		s.at++
		return nil
	case 'u':
		s.at++
		return s.fourHex()
	}
	return s.unexpected(`one of "\/bfnrtu after a backslash`)
}

func (s *Scanner) fourHex() error {
	for range 4 {
		if s.at >= len(s.text) || hex(s.text[s.at]) < 0 {
			return s.unexpected("four hexadecimal digits")
		}
		s.at++
	}
	return nil
}

// unescape appends raw to out, its checked escapes resolved.
func unescape(out, raw []byte) []byte {
	for {
		i := bytes.IndexByte(raw, '\\')
		if i < 0 {
			return append(out, raw...)
		}
		out = append(out, raw[:i]...)
		if raw[i+1] == 'u' {
			r, n := unescapeRune(raw[i:])
			out = utf8.AppendRune(out, r)
			raw = raw[i+n:]
			continue
		}
		out = append(out, short(raw[i+1]))
		raw = raw[i+2:]
	}
}

func short(c byte) byte {
	switch c {
	case 'b':
		return '\b'
	case 'f':
		return '\f'
	case 'n':
		return '\n'
	case 'r':
		return '\r'
	case 't':
		return '\t'
	}
	return c
}

// unescapeRune resolves \uXXXX, or two that are a surrogate pair; half a pair
// becomes U+FFFD.
func unescapeRune(raw []byte) (rune, int) {
	r := rune4(raw[2:])
	if !utf16.IsSurrogate(r) {
		return r, 6
	}
	if len(raw) >= 12 && raw[6] == '\\' && raw[7] == 'u' {
		if pair := utf16.DecodeRune(r, rune4(raw[8:])); pair != utf8.RuneError {
			return pair, 12
		}
	}
	return utf8.RuneError, 6
}

func rune4(h []byte) rune {
	return hex(h[0])<<12 | hex(h[1])<<8 | hex(h[2])<<4 | hex(h[3])
}

func hex(c byte) rune {
	switch {
	case c >= '0' && c <= '9':
		return rune(c - '0')
	case c >= 'a' && c <= 'f':
		return rune(c-'a') + 10
	case c >= 'A' && c <= 'F':
		return rune(c-'A') + 10
	}
	return -1
}
