package alarm

import (
	"slices"
	"time"
)

// Rule is how alarms of one kind behave.
type Rule struct {
	Kind        Kind
	Priority    Priority    // unless the condition brings another
	Consequence Consequence // what comes to harm

	OnDelay  time.Duration // the condition holds this long before it alarms
	OffDelay time.Duration // and is gone this long before it counts as gone

	// Measured kinds end only by a measurement when the OffDelay is over:
	// silence since the first one ends nothing.
	Measured bool

	// DeadBand is how far past its limit a value must come back before the
	// condition counts as gone, in the unit of the kind; 0: none.
	DeadBand float64
	Falling  bool // low values alarm (a cold space), so the value comes back upwards

	Latching      bool          // stays after the condition is gone, until reset
	HighlyManaged bool          // cannot be shelved, suppressed, folded or taken out of service
	ReAlarm       time.Duration // after acknowledgement, alarms again if it still holds; 0: never
	MaxShelve     time.Duration // longest shelving at one go

	Chatter Chatter
	Source  string // where the figures come from
}

// Chatter damps an alarm that comes and goes: once it was raised Count times
// within Window, it ends only after Hold without the condition.
type Chatter struct {
	Count  int // 0: no damping
	Window time.Duration
	Hold   time.Duration
}

// ruleOf finds the default rule of a kind; an unknown kind gets a medium one.
func ruleOf(k Kind) Rule {
	for _, r := range defaults {
		if r.Kind == k {
			return r
		}
	}
	return Rule{Kind: k, Priority: Medium, Consequence: Work, MaxShelve: day, Source: practice}
}

// Rules is the default rule of every kind, in the order of Kinds, for the
// caller to change.
func Rules() []Rule { return slices.Clone(defaults) }
