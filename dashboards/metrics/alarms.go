package metrics

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	dto "github.com/prometheus/client_model/go"

	"heaterd/alerts/alarm"
)

// standing is what alarms are counted by.
type standing struct {
	kind     alarm.Kind
	priority alarm.Priority
	state    alarm.State
}

type (
	alarmCounts map[standing]int
	alarmLabels map[standing][]*dto.LabelPair
)

// quiet is a series for every kind that stands at zero where nothing is
// wrong, so that a rule or a panel about it has something to read.
var quiet = func() []standing {
	var list []standing
	for _, r := range alarm.Rules() {
		list = append(list, standing{r.Kind, r.Priority, alarm.Unacknowledged})
	}
	return list
}()

// alarms counts live by kind, priority and state. All three come from fixed
// lists, so the number of series is bounded.
func (p *page) alarms(live []alarm.Alarm) {
	if p.counts == nil {
		p.counts = alarmCounts{}
	}
	clear(p.counts)
	for _, s := range quiet {
		p.counts[s] = 0
	}
	for i := range live {
		p.counts[standing{live[i].Kind, live[i].Priority, live[i].State}]++
	}
	for _, s := range slices.SortedFunc(maps.Keys(p.counts), standing.compare) {
		p.add(alarms, p.fixed.alarms.of(s), float64(p.counts[s]))
	}
}

func (l alarmLabels) of(s standing) []*dto.LabelPair {
	all, ok := l[s]
	if !ok {
		all = labels(labelKind, string(s.kind), labelPriority, string(s.priority), labelState, string(s.state))
		l[s] = all
	}
	return all
}

func (s standing) compare(o standing) int {
	return cmp.Or(strings.Compare(string(s.kind), string(o.kind)),
		strings.Compare(string(s.priority), string(o.priority)),
		strings.Compare(string(s.state), string(o.state)))
}
