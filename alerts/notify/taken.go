package notify

import (
	"strings"

	"heaterd/alerts/alarm"
)

// taken reports whether somebody took on an alarm that others were told of too:
// without a word they would go on looking for who sees to it, or drive there as
// well.
func taken(t alarm.Transition) bool {
	return t.Event == alarm.Acknowledge && t.From == alarm.Unacknowledged && t.To == alarm.Acknowledged && t.By != "" && !t.Alarm.Late
}

// tells reports whether somebody who was told of an alarm is told of a later
// change. A site's contacts are not told that a technician has acknowledged:
// that changes nothing for the people there.
func (p *Planner) tells(t alarm.Transition, before Message) bool {
	if !taken(t) {
		return true
	}
	who := p.Name(t.By)
	return !strings.HasPrefix(before.Person, contactPrefix) && before.Person != t.By && !strings.EqualFold(before.Name, who)
}

// stillTaken reports whether the alarm of such a message is still seen to: it
// may have ended, or come again, while the message was on its way.
func stillTaken(m Message, alarms []alarm.Alarm) bool {
	for _, a := range alarms {
		if m.Alarm != nil && a.ID == m.Alarm.ID {
			return a.State == alarm.Acknowledged
		}
	}
	return false
}

// afterwards is the kind of message that tells those who were told of an alarm
// of a later change, and when it goes out.
func afterwards(t alarm.Transition) (MessageKind, alarm.Priority) {
	if taken(t) {
		return Taken, t.Alarm.Priority
	}
	return Ended, alarm.Low
}

// OfTaking reports whether the message is, or becomes, the word that somebody
// has acknowledged.
func (m Message) OfTaking() bool {
	return m.Kind == Taken || m.Kind == Farewell && m.Change != nil && m.Change.Event == alarm.Acknowledge
}
