package fold

import (
	"slices"

	"heaterd/alerts/exposure"
	"heaterd/alerts/service"
	"heaterd/alerts/warmth"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// whereabouts is where the configuration had a heater, and what it had run before.
type whereabouts struct {
	Site, Space  string
	Node         reading.NodeID // the unit on it, fitted by a person or configured
	HoursAtStart float64        // h
}

func (h *heater) whereabouts() whereabouts {
	return whereabouts{h.Site, h.Space, h.node, h.HoursAtStart}
}

// carriers tells which heater each unit was on.
func carriers(minds map[string]remembered) map[reading.NodeID]string {
	out := map[reading.NodeID]string{}
	for id, r := range minds {
		if r.left == 0 {
			out[r.place.Node] = id
		}
	}
	return out
}

// takeUnits goes on with the units that the configuration names.
func (e *Engine) takeUnits(minds map[string]remembered) {
	for _, h := range e.heaters {
		if r, ok := minds[h.ID]; ok && r.left == 0 && r.place.Node != h.node {
			h.Before = h.Before.add(r.place.Node, &h.figures, e.now, e.rules.keptMost())
		}
	}
	e.recallStays()
	on := carriers(minds)
	for _, h := range e.heaters {
		if r, ok := minds[h.ID]; ok && h.takesUnit(r, on) {
			e.takeUnit(h)
		}
	}
}

// takesUnit reports whether the configuration names another unit, or one
// that was on another heater meanwhile.
func (h *heater) takesUnit(was remembered, on map[reading.NodeID]string) bool {
	id, carried := on[h.node]
	return h.node != "" && (!carried || id != h.ID) && (carried || was.place.Node != h.node)
}

// takeUnit goes on with another unit as if a person had fitted it now.
func (e *Engine) takeUnit(h *heater) {
	h.listenAnew(e.clockOf(h.node), e.now)
	h.write(e.now, record.Entry{Heater: h.ID, Task: fitNode, Node: string(h.node), By: "the configuration"})
}

// recall takes up what is remembered of a heater, at the time of the snapshot.
func (h *heater) recall(r remembered, now reading.Instant) {
	h.mind = *r.mind
	code := exposure.NewSensor(h.site.Activity).Activity // the configuration may have changed it
	h.Settled.Air.Activity, h.Live.Air.Activity = code, code
	if r.left != 0 {
		h.Heard, h.Offline = now, false // nobody listened
	}
	if was := r.place; was.Site != h.Site || was.Space != h.Space {
		h.moved(now, was.Site != h.Site)
	}
	h.correct(h.HoursAtStart - r.place.HoursAtStart)
}

// moved leaves behind what was of the place where the heater stood: its air,
// how it kept warm, and whose burns ended with the heater's there. The hours
// and the work go with the heater.
func (h *heater) moved(now reading.Instant, site bool) {
	for _, w := range []*Witness{&h.Settled, &h.Live} {
		w.Air, w.Warm = exposure.NewSensor(h.site.Activity), warmth.State{}
		w.Known.Has &^= reading.CO | reading.Temp
		w.Known.COAt, w.Known.TempAt = 0, 0
		w.Cell.HighAt = 0
	}
	for i := range h.Pending {
		h.Pending[i].Has &^= reading.CO
	}
	for i := range h.Doubts {
		h.Doubts[i].Has &^= reading.CO
	}
	h.Air, h.Decay, h.Source = nil, exposure.Decay{}, nil
	if site {
		h.Told, h.Losses, h.Holes = nil, nil, nil
	}
	h.Work.Deploy(now)
	h.Journal.Before.Deployed = max(h.Journal.Before.Deployed, now)
}

// correct takes another word of the hours that the heater had at its start, so
// many more, h. A meter that somebody read since stays as it was read.
func (h *heater) correct(more float64) {
	if more == 0 {
		return
	}
	anchored := h.Settled.Burner.HaveMeter
	for _, w := range []*Witness{&h.Settled, &h.Live} {
		if w.Burner.HaveMeter {
			w.Burner.Reframe(-more)
		}
	}
	if !anchored {
		h.Work.Reframe(more)
		h.Journal.restamp(func(m *service.Mark) { m.Reframe(more) })
	}
}

// shelf keeps when work was done that the plan does not name any more, by
// task.
type shelf map[string]service.Mark

// replan brings the book into the order of another plan. The marks of tasks
// that it lacks are laid aside until one has them again.
func (m *mind) replan(from, to service.Plan) {
	for i, t := range from.Tasks[:min(len(from.Tasks), service.MaxTasks)] {
		if to.Index(t.ID) < 0 && m.Work.Last[i].At != 0 {
			if m.Shelf == nil {
				m.Shelf = shelf{}
			}
			m.Shelf[t.ID] = m.Work.Last[i]
		}
	}
	m.Work = m.Work.Reorder(from, to)
	for i, t := range to.Tasks[:min(len(to.Tasks), service.MaxTasks)] {
		if mark, ok := m.Shelf[t.ID]; ok {
			m.Work.Last[i] = mark
			delete(m.Shelf, t.ID)
		}
	}
}

// order gathers the endings of a site's heaters again.
func (s *site) order() {
	for _, h := range s.heaters {
		for _, e := range slices.Concat(h.Told, h.Open) {
			s.recent = append(s.recent, ending{h, e})
		}
	}
}

func (e *Engine) planIDs() []string {
	var ids []string
	for _, t := range e.rules.Plan.Tasks {
		ids = append(ids, t.ID)
	}
	return ids
}

func planOf(ids []string) service.Plan {
	var p service.Plan
	for _, id := range ids {
		p.Tasks = append(p.Tasks, service.Task{ID: id})
	}
	return p
}
