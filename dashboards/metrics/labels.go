package metrics

import (
	"runtime"
	"slices"
	"strings"
	"time"

	dto "github.com/prometheus/client_model/go"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// labels makes label pairs of names and values in turn, sorted by name.
func labels(pairs ...string) []*dto.LabelPair {
	out := make([]*dto.LabelPair, 0, len(pairs)/2)
	for i := 0; i < len(pairs); i += 2 {
		value := strings.ToValidUTF8(pairs[i+1], "�")
		out = append(out, &dto.LabelPair{Name: &pairs[i], Value: &value})
	}
	slices.SortFunc(out, func(a, b *dto.LabelPair) int { return strings.Compare(*a.Name, *b.Name) })
	return out
}

// heaterLabels are the label pairs of one heater, good as long as it stays
// where it is.
type heaterLabels struct {
	id, site, space string
	node            reading.NodeID
	heater, byNode  []*dto.LabelPair
	burns           [][]*dto.LabelPair // by position in outcome.Endings
	tasks           []taskLabels
}

type taskLabels struct {
	task string
	all  []*dto.LabelPair
	due  service.Date
	zone *time.Location
	at   float64 // s since 1970, when due begins in zone
}

// begins gives when a day begins. Days change seldom and are dear to look up.
func (t *taskLabels) begins(d service.Date, zone *time.Location) float64 {
	if t.due != d || t.zone != zone {
		t.due, t.zone, t.at = d, zone, seconds(d.Start(zone))
	}
	return t.at
}

var endings = outcome.Endings()

func (l *heaterLabels) fit(h *fold.HeaterView) bool {
	return l.id == h.ID && l.site == h.Site && l.space == h.Space && l.node == h.Node
}

func newHeaterLabels(h *fold.HeaterView) heaterLabels {
	l := heaterLabels{id: h.ID, site: h.Site, space: h.Space, node: h.Node}
	l.heater = l.with()
	l.byNode = l.with(labelNode, string(h.Node))
	for _, e := range endings {
		l.burns = append(l.burns, l.with(labelEnding, string(e)))
	}
	return l
}

func (l *heaterLabels) with(more ...string) []*dto.LabelPair {
	return labels(append(more, labelHeater, l.id, labelSite, l.site, labelSpace, l.space)...)
}

// forTask gives the label pairs of the i-th task.
func (l *heaterLabels) forTask(i int, task string) *taskLabels {
	for i >= len(l.tasks) {
		l.tasks = append(l.tasks, taskLabels{})
	}
	if t := &l.tasks[i]; t.task != task || t.all == nil {
		l.tasks[i] = taskLabels{task: task, all: l.with(labelTask, task)}
	}
	return &l.tasks[i]
}

// heater gives the label pairs of the i-th heater.
func (p *page) heater(i int, h *fold.HeaterView) *heaterLabels {
	if i == len(p.heaters) {
		p.heaters = append(p.heaters, newHeaterLabels(h))
	}
	if !p.heaters[i].fit(h) {
		p.heaters[i] = newHeaterLabels(h)
	}
	return &p.heaters[i]
}

// spaceLabels are the label pairs of one space.
type spaceLabels struct {
	id, site                   string
	space                      []*dto.LabelPair
	short, shift               []*dto.LabelPair // windows
	ceiling, shortTerm, shift8 []*dto.LabelPair // limits
}

func newSpaceLabels(s *fold.SpaceView) spaceLabels {
	with := func(more ...string) []*dto.LabelPair {
		return labels(append(more, labelSite, s.Site, labelSpace, s.ID)...)
	}
	return spaceLabels{
		id: s.ID, site: s.Site, space: with(),
		short: with(labelWindow, "15m"), shift: with(labelWindow, "8h"),
		ceiling: with(labelLimit, "ceiling"), shortTerm: with(labelLimit, "short-term"), shift8: with(labelLimit, "shift"),
	}
}

// space gives the label pairs of the i-th space.
func (p *page) space(i int, s *fold.SpaceView) *spaceLabels {
	if i == len(p.spaces) {
		p.spaces = append(p.spaces, newSpaceLabels(s))
	}
	if l := &p.spaces[i]; l.id != s.ID || l.site != s.Site {
		*l = newSpaceLabels(s)
	}
	return &p.spaces[i]
}

// fixedLabels are label pairs whose values are known beforehand.
type fixedLabels struct {
	alarms        alarmLabels
	refused       map[reading.Reason][]*dto.LabelPair
	pending, dead []*dto.LabelPair
}

var reasons = reading.Reasons()

func newFixedLabels() fixedLabels {
	f := fixedLabels{
		refused: map[reading.Reason][]*dto.LabelPair{},
		alarms:  alarmLabels{},
		pending: labels(labelState, "pending"), dead: labels(labelState, "dead"),
	}
	for _, r := range reasons {
		f.refused[r] = labels(labelReason, string(r))
	}
	return f
}

func buildLabels(b Build) []*dto.LabelPair {
	return labels("goversion", runtime.Version(), "revision", b.Revision, "version", b.Version)
}

func (p *page) sink(name string) []*dto.LabelPair {
	l, ok := p.sinks[name]
	if !ok {
		l = labels(labelSink, name)
		p.sinks[name] = l
	}
	return l
}
