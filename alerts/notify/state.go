package notify

import (
	"cmp"
	"slices"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/wording"
	"heaterd/ingest/reading"
)

// states tells every MQTT topic that speaks for the alarm's place that
// something changed there. What is published is written when it is sent, so
// that the last message always says how things are.
func (p *Planner) states(t alarm.Transition) []ledger.Job {
	place := p.placeOf(t.Alarm)
	if place.Site == "" {
		return nil
	}
	var jobs []ledger.Job
	for _, c := range p.settings.Channels {
		if c.Kind == MQTT {
			m := Message{Kind: State, At: t.At, Channel: c.ID, Priority: t.Alarm.Priority, Topic: c.TopicOf(place), Place: &place}
			jobs = append(jobs, job(t, 0, m))
		}
	}
	return jobs
}

// TopicOf fills {site} and {space} in. A site's own alarms, which are in no
// space, are published for the space "-".
func (c Channel) TopicOf(p Place) string {
	return strings.NewReplacer("{site}", level(p.Site), "{space}", level(cmp.Or(p.Space, "-"))).Replace(c.Topic)
}

// level makes a name one level of a topic.
func level(s string) string {
	return strings.NewReplacer("/", "_", "+", "_", "#", "_", "\x00", "_").Replace(s)
}

// SpaceState is what is published about a space, or about all spaces whose
// topic is the same: the alarm that needs somebody most.
type SpaceState struct {
	At       reading.Instant `json:"at"`    // of the last change known
	State    alarm.State     `json:"state"` // of the alarm that needs somebody most; normal: there is none
	Site     string          `json:"site,omitempty"`
	Space    string          `json:"space,omitempty"`
	Alarm    string          `json:"alarm,omitempty"`
	Kind     alarm.Kind      `json:"kind,omitempty"`
	Priority alarm.Priority  `json:"priority,omitempty"`
	Text     string          `json:"text,omitempty"`
	Alarms   int             `json:"alarms"` // how many are not over
}

// needs orders states by how much they need somebody. What is held back on
// purpose is not published.
var needs = []alarm.State{alarm.Unacknowledged, alarm.Latched, alarm.Returned, alarm.Acknowledged}

// stateOf writes what a topic says from the alarms there are.
func (p *Planner) stateOf(m Message, alarms []alarm.Alarm) Message {
	c, _ := p.channel(m.Channel)
	s := SpaceState{At: m.At, State: alarm.Normal, Site: m.Place.Site, Space: m.Place.Space}
	worst := alarm.Alarm{}
	for _, a := range alarms {
		if !slices.Contains(needs, a.State) || c.TopicOf(p.placeOf(a)) != m.Topic || p.placeOf(a).Site == "" {
			continue
		}
		s.Alarms++
		s.At = max(s.At, a.Changed)
		if s.Alarms == 1 || graver(a, worst) {
			worst = a
		}
	}
	if s.Alarms > 0 {
		s.describe(worst, p.placeOf(worst), wording.Line(wording.Of(worst, p.siteOf(worst))))
	}
	m.Text = string(mustJSON(s))
	return m
}

func (s *SpaceState) describe(a alarm.Alarm, at Place, text string) {
	s.State, s.Alarm, s.Kind, s.Priority = a.State, a.ID, a.Kind, a.Priority
	s.Site, s.Space, s.Text = at.Site, at.Space, text
}

func graver(a, b alarm.Alarm) bool {
	switch i, j := slices.Index(needs, a.State), slices.Index(needs, b.State); {
	case i != j:
		return i < j
	case a.Priority != b.Priority:
		return a.Priority.Outranks(b.Priority)
	default:
		return a.ID < b.ID
	}
}
