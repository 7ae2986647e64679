// Package notify brings alarms to people: it decides whom to tell, when and
// by which channel, and sees to it that the message gets there.
//
//	alarm.Transition ─Planner.Plan─▶ ledger.Job, in the transaction of the change
//	ledger ─Courier─▶ Sender (webhook, mail, text, publish) ─▶ receipt in the ledger
//
// The Planner is pure but for the rota being replaced: the same change gives
// the same messages under the same ids. Steps that lie ahead are written at
// once and due later; the ledger cancels what is pending when somebody
// answers, or what is not about the air people breathe ends by itself.
//
// The Courier delivers at least once. A message is claimed with a lease, sent,
// and marked; when the process dies in between it is sent again within a
// minute or so under the same id, by which a receiver tells. What fails is
// tried again, ever more slowly, until it is given up; the person's next
// channel takes over at the first failure, and a channel that keeps failing is
// reported so that it becomes an alarm by another.
//
// Nothing here waits on a sleeping person's quiet hours where an alarm is
// critical or high.
package notify
