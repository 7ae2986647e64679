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
// only samples that can no longer be overtaken: those measured and come longer
// ago than the lateness window, and nothing behind a hole that a node's own
// buffer may still fill, for as long as a node may buffer. It is brought on every
// Rules.Settle, several samples at once.
// The live copy has seen everything received. Burns, hours and exposure come
// from the settled copy, so that order, repetition and packing of deliveries
// do not show in them; alarms come from the live one, so that nobody waits
// for the window. A straggler inside the window makes the live copy anew from
// the settled one; where very many samples wait, at the next tick.
//
// A late sample that tells of a time the node has told of already, otherwise,
// is placed by neither copy at once: it was kept up on its way, or the node's
// clock was set back. It waits for the next packs, which say which; nothing
// is settled beyond it meanwhile, and a ceiling of CO is told at once. Nor is
// anything settled that came while the clock is being asked about: once it is
// known to be wrong, that is moved to where it belongs.
//
// A sample that shows no flame, though the counter ran on and the next one sees it
// again, is folded as lit where that happens often (dim.go): for that the live copy
// is made anew, and the settled one waits for the next sample.
//
// What outcomes rest on is fixed before they are told: where a heater usually
// switches off and on by the burns around an ending, what its neighbours did,
// every flame of a space at the time of a CO reading, and the hours after an
// ending up to Rules.AftermathFor. So it does not show when they were told.
//
// An Engine is not safe for concurrent use; the loop around it owns it.
package fold
