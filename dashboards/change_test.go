package dashboards

import (
	"testing"

	"heaterd/alerts/alarm"
)

func TestChangesArePlainWords(t *testing.T) {
	for want, c := range map[string]alarm.Transition{
		"came up: not acknowledged":                      {Event: alarm.Raise, From: alarm.Normal, To: alarm.Unacknowledged},
		"acknowledged":                                   {Event: alarm.Acknowledge, From: alarm.Unacknowledged, To: alarm.Acknowledged},
		"acknowledged, over":                             {Event: alarm.Acknowledge, From: alarm.Returned, To: alarm.Normal},
		"the condition ended: over":                      {Event: alarm.Clear, From: alarm.Acknowledged, To: alarm.Normal},
		"the condition ended: not acknowledged":          {Event: alarm.Clear, From: alarm.Unacknowledged, To: alarm.Returned},
		"shelving ran out: not acknowledged":             {Event: alarm.Expire, From: alarm.Shelved, To: alarm.Unacknowledged},
		"reset, the site having cleared the space":       {Event: alarm.Reset, From: alarm.Latched, To: alarm.Normal},
		"the condition ended: " + stateWords["latched"]:  {Event: alarm.Clear, From: alarm.Acknowledged, To: alarm.Latched},
		"put under its cause: calls nobody by itself":    {Event: alarm.Suppress, From: alarm.Unacknowledged, To: alarm.Suppressed},
		"something new: " + stateWords["unacknowledged"]: {Event: "something new", To: alarm.Unacknowledged},
	} {
		if got := changed(c); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
