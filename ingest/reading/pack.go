package reading

import (
	"fmt"
	"time"
)

// Pack is one telemetry message after decoding.
type Pack struct {
	Node    NodeID
	Samples []Sample      // ascending by At, one per instant
	Within  time.Duration // longest time to the next reading that the node promised (SenML ut); 0 if it did not
	Ignored int           // records of unknown name or label that were passed over
	Spoilt  *Refusal      // the first value that could not be taken, where the others were; nil: all could
}

// Reason says why a message was refused; the list is closed so that it can
// be a metric label.
type Reason string

// The reasons.
const (
	BadSyntax  Reason = "syntax"    // not the format at all
	BadField   Reason = "field"     // a field of the wrong type, or a value where none may be
	BadName    Reason = "name"      // no usable node or record name
	BadUnit    Reason = "unit"      // a unit this quantity cannot have
	BadRange   Reason = "range"     // not a number, infinite, or outside what the quantity can be
	BadTime    Reason = "time"      // a time that cannot be
	BadVersion Reason = "version"   // a SenML version above what is known, or a must-understand label
	TooLarge   Reason = "too-large" // over the limit of bytes, records or depth
	NothingIn  Reason = "empty"     // no quantity of ours in it
	BadTopic   Reason = "topic"     // the topic names no node, or another node than the payload, or another site than the node's
	NotListed  Reason = "unlisted"  // a node the configuration does not list
	OverBudget Reason = "budget"    // the node sends more than its share
)

// Reasons lists every reason, in a fixed order.
func Reasons() []Reason {
	return []Reason{
		BadSyntax, BadField, BadName, BadUnit, BadRange, BadTime,
		BadVersion, TooLarge, NothingIn, BadTopic, NotListed, OverBudget,
	}
}

// Refusal is the error of every decoder: which rule the message broke, where
// in the message, and what would be right.
type Refusal struct {
	Reason Reason
	Where  string // "record 3", "/sensors/co", "topic level 4"
	Detail string // what was found and what is allowed
}

// Refuse makes a Refusal that does not say where: who knows that adds it.
func Refuse(reason Reason, format string, args ...any) error {
	return &Refusal{Reason: reason, Detail: fmt.Sprintf(format, args...)}
}

func (r *Refusal) Error() string {
	if r.Where == "" {
		return string(r.Reason) + ": " + r.Detail
	}
	return string(r.Reason) + " at " + r.Where + ": " + r.Detail
}
