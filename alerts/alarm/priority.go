package alarm

import (
	"cmp"
	"slices"
	"time"
)

// Priority says how soon a person should act.
type Priority string

// The priorities of the contract, most pressing first.
const (
	Critical Priority = "critical"
	High     Priority = "high"
	Medium   Priority = "medium"
	Low      Priority = "low"
)

// Priorities lists the priorities, most pressing first.
func Priorities() []Priority { return []Priority{Critical, High, Medium, Low} }

// Rank is 0 for critical to 3 for low, 4 for none.
func (p Priority) Rank() int {
	if i := slices.Index(Priorities(), p); i >= 0 {
		return i
	}
	return len(Priorities())
}

// Outranks reports whether p is more pressing than q.
func (p Priority) Outranks(q Priority) bool { return p.Rank() < q.Rank() }

// Higher gives the more pressing of p and q.
func (p Priority) Higher(q Priority) Priority {
	if q.Outranks(p) {
		return q
	}
	return p
}

// Consequence says what comes to harm if nobody acts.
type Consequence string

// The consequences, gravest first.
const (
	People   Consequence = "people"   // someone may be hurt
	Property Consequence = "property" // a space or what is in it is damaged: frost, heat
	Work     Consequence = "work"     // a heater stands, work is held up
	Records  Consequence = "records"  // knowledge is lost, no more
)

// Unknown, as a time to harm, means that nothing bounds it.
const Unknown time.Duration = -1

// band is the priority of a harm that comes within a time.
type band struct {
	within   time.Duration
	priority Priority
}

// bands order consequence against time to act. ISA-18.2 asks that priority
// follow from these two and leaves the figures to the owner of the plant;
// these are common practice, no source. The first band that fits counts;
// past the last it is beyond's.
var bands = map[Consequence][]band{
	People:   {{30 * time.Minute, Critical}},
	Property: {{30 * time.Minute, Critical}, {2 * time.Hour, High}, {8 * time.Hour, Medium}},
	Work:     {{time.Hour, High}, {8 * time.Hour, Medium}},
	Records:  {{8 * time.Hour, Medium}},
}

var beyond = map[Consequence]Priority{People: High, Property: Low, Work: Low, Records: Low}

// PriorityOf weighs the time left until harm against what comes to harm.
// toHarm below zero (Unknown) gives the kind's own priority; an empty
// consequence is the kind's own. A kind that concerns people never falls
// below its own priority.
func PriorityOf(k Kind, toHarm time.Duration, c Consequence) Priority {
	r := ruleOf(k)
	if toHarm < 0 {
		return r.Priority
	}
	p := within(toHarm, cmp.Or(c, r.Consequence))
	if r.HighlyManaged {
		p = p.Higher(r.Priority)
	}
	return p
}

func within(toHarm time.Duration, c Consequence) Priority {
	for _, b := range bands[c] {
		if toHarm <= b.within {
			return b.priority
		}
	}
	return beyond[c]
}
