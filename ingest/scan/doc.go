// Package scan reads JSON text in place: no values are built, limits hold
// while reading, and every error says at which byte, from 0, it happened. The decoders
// of telemetry, of a node's own JSON and of capture files stand on it.
//
//	s := scan.New(body, 8)
//	s.Object()
//	for key, more, err := s.Key(); more; key, more, err = s.Key() {
//		// exactly one of Number, Text, Bool, Object, Array or Skip
//	}
//	s.End()
//
// It is pure and keeps to RFC 8259: what it accepts is what encoding/json
// accepts, except that text which is not UTF-8 is refused. It does not look
// for repeated keys; whoever reads the keys does.
package scan
