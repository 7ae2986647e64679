package record

import (
	"fmt"

	"heaterd/ingest/reading"
)

// Withdrawal is a person's word that an entry of the service log was wrong. It
// is a line of its own and changes none; the entry is named by its heater, its
// task and the time of its line, which a recording has as well as a log.
type Withdrawal struct {
	Heater string          `json:"heater"`
	Task   string          `json:"task"`
	At     reading.Instant `json:"at"` // when the entry was written down
	By     string          `json:"by,omitempty"`
	Why    string          `json:"why"` // never empty
}

// WithdrawnWithin is how long after an entry was written down it may be
// withdrawn: a week, as long as it may be written down late. Common practice,
// no source: what was older has been planned on.
const WithdrawnWithin = WrittenWithin

// LongestWhy is how long the reason of a withdrawal may be, characters. Common
// practice, no source.
const LongestWhy = 200

// rightedBy says of tasks that cannot be withdrawn what to do instead.
var rightedBy = map[string]string{
	"meter":     "a reading of the hour meter is not withdrawn: write down what the meter reads",
	"fit-node":  "a fitted node is not withdrawn: write down the node that is on the heater",
	StopTask:    "a planned stop is not withdrawn: end it on the heater's page",
	StopEndTask: "the end of a planned stop is not withdrawn: write the stop down again",
}

// Refusal says why an entry of a task, with further ones or none, cannot be
// withdrawn at an instant, and what to do instead; empty where it can.
func Refusal(task string, further []string, written, now reading.Instant) string {
	why, fixed := rightedBy[task]
	switch {
	case fixed && (task != "meter" || len(further) == 0):
		return why
	case now.Sub(written) > WithdrawnWithin:
		return fmt.Sprintf("an entry can be withdrawn up to %d days after it was written down: write down what is right", days(WithdrawnWithin))
	}
	return ""
}
