// Package notify brings an alarm to a person: who is on call, in which steps,
// by which channel, and what waits for the morning. It takes jobs from the
// outbox, hands them to senders and writes down how each delivery went.
package notify
