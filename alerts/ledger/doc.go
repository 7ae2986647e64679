// Package ledger keeps what the alarm engine concluded, in the store: alarms
// and their history, burns, the service log, and the outbox of messages to
// people.
//
//	engine ─Batch─▶ Commit ─┬▶ alarm, alarm_change, burn, entry, withdrawal, snapshot
//	                        └▶ job ─Claim─▶ senders ─MarkSent, MarkFailed, MarkDead─▶ delivery
//
// # One transaction
//
// Commit writes everything a stretch of the log led to, with the cursor that
// says how far the log was read, or nothing of it. A message to somebody
// exists exactly when the change of the alarm that called for it does. Commit
// and Claim do not wait for the disk, so that an alarm is told the sooner: a
// loss of power takes the ledger back, never ahead of the log, and the lines
// are folded again.
//
// # Repetition
//
// After a crash the engine may fold the same lines again and commit the same
// batch again, or batches from an older snapshot on. Every row has a key that
// follows from the log (alarm and number of its change; heater and start of
// the burn; line of the entry; the job's own id), so nothing is written
// twice, and what is newer is not overwritten by what is older.
//
// # Messages
//
// A job is claimed with a lease: it comes up again if the sender died with
// it. A message may so go out twice and never not at all; receivers tell by
// the job's id. Once a change quiets an alarm (acknowledged, over, shelved,
// suppressed, out of service), jobs that earlier changes called for are
// cancelled in the same transaction; so are the later steps of one that ended
// by itself, unless it is about the air people breathe.
//
// All methods may be called from any goroutine.
package ledger
