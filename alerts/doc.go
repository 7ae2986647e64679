// Package alerts is the loop behind the log: it follows the log and the
// clock in it, folds every line through the engine, and commits what changed
// (alarms, their history, burns, the service log, messages to people) in one
// transaction with how far it read.
//
//	log ─Lines─▶ Watch ─Step─▶ fold.Engine
//	               │ ◀─Effects─┘
//	               └─Commit─▶ ledger ─▶ senders
//
// A crash anywhere replays to the same result: the engine's memory is kept as
// a snapshot now and then, and what came after it is folded again. A fault in
// a rule costs the line it met, is logged and counted, and never stops a
// reading from being kept, for ingest does not wait for this loop.
//
// View, Now and Lag may be called from any goroutine; Run owns the rest.
package alerts
