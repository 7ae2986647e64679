package senml

import (
	"bytes"

	"heaterd/ingest/reading"
)

// join concatenates base name and name and checks the outcome (RFC 8428
// section 4.5.1). The result lasts until the next join.
func (res *resolver) join(n []byte) ([]byte, error) {
	res.name = append(append(res.name[:0], res.bn...), n...)
	name := res.name
	if len(name) == 0 {
		return nil, reading.Refuse(reading.BadName, "found neither a base name nor a name")
	}
	if nameBytes[name[0]] != alphanumeric {
		return nil, reading.Refuse(reading.BadName, "found %q, allowed: a letter or digit first", name)
	}
	for _, c := range name {
		if nameBytes[c] == 0 {
			return nil, reading.Refuse(reading.BadName, "found %q in %q, allowed: letters, digits and - : . / _", c, name)
		}
	}
	return name, nil
}

const (
	alphanumeric = 1
	punctuation  = 2
)

// nameBytes says what a byte is in a name; 0: not allowed there.
var nameBytes = func() (table [256]byte) {
	for _, c := range []byte("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") {
		table[c] = alphanumeric
	}
	for _, c := range []byte("-:./_") {
		table[c] = punctuation
	}
	return table
}()

// split parts a name before its last path or urn part; the separator goes
// with neither.
func split(name []byte) (prefix, last []byte) {
	i := len(name) - 1
	for i >= 0 && name[i] != '/' && name[i] != ':' {
		i--
	}
	if i < 0 {
		return nil, name
	}
	return name[:i], name[i+1:]
}

// tells reports whether node stands in prefix as a whole part, or as a
// component of a device urn, which are parted by "_" (RFC 9039 section 3).
func tells(prefix []byte, node string) bool {
	for from := 0; ; {
		i := bytes.Index(prefix[from:], []byte(node))
		if i < 0 {
			return false
		}
		start := from + i
		end := start + len(node)
		if (start == 0 || parts(prefix[start-1])) && (end == len(prefix) || parts(prefix[end])) {
			return true
		}
		from = start + 1
	}
}

func parts(c byte) bool { return c == '/' || c == ':' || c == '_' }
