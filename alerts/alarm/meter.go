package alarm

import (
	"unique"

	"heaterd/ingest/reading"
)

// Meter takes changes of alarms in, in order of time, and measures in the end
// how good the alarms were. It keeps of each change what that needs and no more,
// and of each text one copy: a year of a large fleet held whole takes a gigabyte.
type Meter struct{ changes []change }

// change is what the measures ask of a transition.
type change struct {
	at           reading.Instant
	id, stem     unique.Handle[string] // of the alarm, with its number and without
	priority     unique.Handle[Priority]
	pages        bool
	stands       bool // it holds from here on, acknowledged or not
	acknowledges bool
	byItself     bool
}

// Add takes the next change in.
func (m *Meter) Add(t *Transition) {
	m.changes = append(m.changes, change{
		at: t.At, id: unique.Make(t.Alarm.ID), stem: unique.Make(t.Alarm.Key.stem()), priority: unique.Make(t.Alarm.Priority),
		pages: t.Pages(), stands: t.To == Unacknowledged || t.To == Acknowledged,
		acknowledges: t.Event == Acknowledge, byItself: t.Where == ByItself,
	})
}
