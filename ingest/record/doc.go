// Package record is one line of the log: what a node said, what a person did,
// or that time passed. The log of lines in order is the whole input of the
// alarm engine; the same lines give the same outcomes, in the daemon and in a
// replay.
//
// It is pure.
package record
