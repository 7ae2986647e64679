// Package alarm is the life of an alarm by ISA-18.2 / IEC 62682: raised after
// its delay, acknowledged, returned, latched, shelved, suppressed, out of
// service, and normal again.
//
//	Condition ─Observe─┐
//	record.Answer ─Answer─┼─▶ Book ─▶ []Transition ─▶ ledger, notify, outcome
//	the clock ─Tick────┘
//
// Every change of state goes through one table, state × event (life.go), and
// every figure of every kind stands in one other, the rules (rules.go).
//
// Three rules are held here whatever the callers do. Absence never clears: a
// condition that is not active ends nothing unless the caller says that it
// was measured; and what a measurement alone can tell is measured again when
// its off-delay is over. Alarms that concern people cannot be shelved, suppressed,
// folded or taken out of service; the latching ones stay until somebody of
// the safety role resets them. Within one occurrence the priority only rises.
//
// Evidence that arrives too late to page anyone makes a record: the
// occurrence goes straight to returned (latched for a latching kind) with
// Late set, and leaves the page of alarms by acknowledgement like any other.
// If the condition is found to hold still, by evidence that is not late, the
// same occurrence becomes unacknowledged and Late is cleared.
//
// The package is pure. A Book is not safe for use by several goroutines at
// once; what it returns shares nothing with it that changes.
package alarm
