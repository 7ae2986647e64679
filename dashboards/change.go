package dashboards

import "heaterd/alerts/alarm"

// eventWords say in plain words what happened to an alarm; a colon asks for how
// it stood after that.
var eventWords = map[alarm.Event]string{
	alarm.Raise:        "came up:",
	alarm.Clear:        "the condition ended:",
	alarm.Acknowledge:  "acknowledged",
	alarm.Reset:        "reset, the site having cleared the space",
	alarm.Shelve:       "shelved",
	alarm.Unshelve:     "shelving ended by a person:",
	alarm.Expire:       "shelving ran out:",
	alarm.Suppress:     "put under its cause: calls nobody by itself",
	alarm.Unsuppress:   "no longer put under its cause:",
	alarm.TakeOut:      "taken out of service",
	alarm.PutBack:      "back in service:",
	alarm.AlarmAgain:   "told again:",
	alarm.LateEvidence: "late record of what was:",
}

// changed says a change of an alarm in plain words.
func changed(t alarm.Transition) string {
	said, known := eventWords[t.Event]
	switch over := t.To == alarm.Normal; {
	case !known:
		return string(t.Event) + ": " + stateWords[t.To]
	case said[len(said)-1] == ':' && over:
		return said + " over"
	case said[len(said)-1] == ':' && t.To == alarm.Returned:
		return said + " not acknowledged"
	case said[len(said)-1] == ':':
		return said + " " + stateWords[t.To]
	case over && t.Event == alarm.Acknowledge:
		return said + ", over"
	}
	return said
}
