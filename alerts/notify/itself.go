package notify

import (
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// byItself reports whether a message says that the very channel it goes by
// fails: no other was left. Whoever gets it reads it once that is over.
func byItself(m Message) bool {
	return m.Alarm != nil && m.Alarm.Kind == string(alarm.ChannelDown) && strings.HasSuffix(stem(m.Alarm.ID), "."+m.Channel+".")
}

// gotThrough is the alarm as it is for whoever is told of it by the channel
// that failed: that they read it is its end.
func gotThrough(a alarm.Alarm, now reading.Instant) alarm.Alarm {
	if a.Active {
		a.Active, a.State, a.Cleared = false, alarm.Returned, now
	}
	return a
}
