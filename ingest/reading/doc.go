// Package reading holds what an add-on sensor unit (a node) said: which node,
// at what instant, which quantities in which unit.
//
// It is pure: values in, values out. Every decoder ends in these types and
// everything behind the log begins with them.
//
//	bytes ─decoder─▶ Pack{Node, Samples} ─log─▶ alerts
//
// A quantity that was not sent is absent (its Has bit is clear); zero is a
// real zero. A message that cannot be read becomes a *Refusal with one of a
// fixed list of reasons, so that refusals can be counted without a label of
// unbounded size.
package reading
