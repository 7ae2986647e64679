package notify

import (
	"strings"

	"heaterd/alerts/alarm"
)

// taken reports whether somebody took on an alarm that others were told of too,
// or shelved it: without a word they would go on looking for who sees to it, or
// drive there as well.
func taken(t alarm.Transition) bool {
	asked := t.From == alarm.Unacknowledged
	acknowledged := t.Event == alarm.Acknowledge && t.To == alarm.Acknowledged && asked
	shelved := t.Event == alarm.Shelve && (asked || t.From == alarm.Acknowledged)
	return (acknowledged || shelved) && t.By != "" && !t.Alarm.Late
}

// tells reports whether somebody who was told of an alarm is told of a later
// change. A site's contacts are not told that a technician has acknowledged:
// that changes nothing for the people there. Who was told of a failing channel
// by that channel read then that it works.
func (p *Planner) tells(t alarm.Transition, before Message) bool {
	if !taken(t) {
		return !byItself(before)
	}
	who := p.Name(t.By)
	return !strings.HasPrefix(before.Person, contactPrefix) && before.Person != t.By && !strings.EqualFold(before.Name, who)
}

// stillTaken reports whether the alarm of such a message is still as it says: it
// may have ended, or come again, while the message was on its way.
func stillTaken(m Message, alarms []alarm.Alarm) bool {
	for _, a := range alarms {
		if m.Alarm != nil && a.ID == m.Alarm.ID {
			return string(a.State) == m.Alarm.State
		}
	}
	return false
}

// afterwards is the kind of message that tells those who were told of an alarm
// of a later change, and when it goes out.
func afterwards(t alarm.Transition) (MessageKind, alarm.Priority) {
	switch {
	case !taken(t):
		return Ended, alarm.Low
	case t.Event == alarm.Shelve:
		return Shelved, t.Alarm.Priority
	default:
		return Taken, t.Alarm.Priority
	}
}

// OfTaking reports whether the message is, or becomes, the word that somebody
// has acknowledged or shelved.
func (m Message) OfTaking() bool {
	return m.ofTaking() || m.Kind == Farewell && m.Change != nil && taken(*m.Change)
}

func (m Message) ofTaking() bool { return m.Kind == Taken || m.Kind == Shelved }
