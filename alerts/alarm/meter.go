package alarm

import "heaterd/ingest/reading"

// Meter takes changes of alarms in, in order of time, and measures in the end
// how good the alarms were. It keeps of each change what that needs and no more:
// a year of a large fleet held whole takes a gigabyte.
type Meter struct {
	changes []change
	texts   map[string]string // one copy of each
}

// change is what the measures ask of a transition.
type change struct {
	at           reading.Instant
	id, stem     string // of the alarm, with its number and without
	priority     Priority
	pages        bool
	stands       bool // it holds from here on, acknowledged or not
	acknowledges bool
	byItself     bool
}

// Add takes the next change in.
func (m *Meter) Add(t *Transition) {
	m.changes = append(m.changes, change{
		at: t.At, id: m.text(t.Alarm.ID), stem: m.text(t.Alarm.Key.stem()), priority: Priority(m.text(string(t.Alarm.Priority))),
		pages: t.Pages(), stands: t.To == Unacknowledged || t.To == Acknowledged,
		acknowledges: t.Event == Acknowledge, byItself: t.Where == ByItself,
	})
}

func (m *Meter) text(s string) string {
	if kept, ok := m.texts[s]; ok {
		return kept
	}
	if m.texts == nil {
		m.texts = map[string]string{}
	}
	m.texts[s] = s
	return s
}
