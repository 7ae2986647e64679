// Package senml reads Sensor Measurement Lists (RFC 8428), in JSON or CBOR,
// into the samples of one node.
//
//	bytes ─json or cbor─▶ record ─resolve─▶ name, unit, time, value ─quantity─▶ Pack
//
// What the RFC obliges a reader to refuse is refused: a version that is not
// understood, a label ending in "_", a name outside the allowed characters,
// two values in one record. One bad record refuses the pack, because base
// fields carry over and the rest would be guesswork; only a value that cannot
// be, or of a time that cannot be, is left out alone.
//
// Where this reader is more generous than the RFC: "ppm" and "%" are taken in
// packs of any version, true-or-false quantities may come as v 0 or 1, a record
// of base fields only is no measurement (the RFC's own section 5.1.7 has one),
// and an exponent may be written E. Where it is stricter: one pack speaks of
// one node, a label may not come twice, and CO and battery must name their unit.
//
// Versions: 1 to 10 (RFC 8428), and any sum of the features reserved by
// version 10 and secondary units, so 26 (RFC 9100). The version of the first
// record holds for all.
//
// Times below 2^28 are relative to arrival, so a pack of relative times that is
// delivered twice tells two instants; nodes that buffer must send absolute time.
// Relative times after the arrival are taken for the time since a node was
// switched on whose clock is not set yet: the newest of a pack is of its arrival.
//
// It is pure: the arrival time comes in as an option.
package senml
