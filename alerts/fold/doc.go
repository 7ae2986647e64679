// Package fold is the engine: it folds the log, line by line, into what is
// known about every heater and space, and says what changed.
//
//	record.Line ─▶ Engine.Step ─▶ Effects{burns, alarm transitions}
//	                   │
//	                   ├─▶ View      what people look at, now
//	                   └─▶ Finish    the outcomes at the end of time
//
// It is pure: the clock is the arrival time of the lines, nothing else. The
// daemon and replay run this same fold, so the same lines give the same
// outcomes in both.
//
// Two copies of each heater's Witness are kept. The settled copy has seen
// only samples that can no longer be overtaken: those older than the lateness
// window, and nothing behind a hole that a node's own buffer may still fill.
// The live copy has seen everything received. Burns, hours and exposure come
// from the settled copy, so that order, repetition and packing of deliveries
// do not show in them; alarms come from the live one, so that nobody waits
// for the window. A straggler inside the window makes the live copy anew from
// the settled one.
//
// An Engine is not safe for concurrent use; the loop around it owns it.
package fold
