package dashboards

import (
	"slices"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// course is where one heater stood, one place after the other.
type course struct {
	heater string
	now    *fold.HeaterView // nil: the configuration has it no more
	stands []ledger.Stand   // oldest first
}

// byHeater gives the course of each heater that ever stood somewhere. Of one
// of the space of which nothing was written down, the configuration speaks.
func byHeater(stands []ledger.Stand, space *fold.SpaceView, now map[string]*fold.HeaterView) (out []course) {
	known := map[string]bool{}
	for len(stands) > 0 {
		id, n := stands[0].Heater, 1
		for n < len(stands) && stands[n].Heater == id {
			n++
		}
		out, stands = append(out, course{id, now[id], stands[:n]}), stands[n:]
		known[id] = true
	}
	for _, id := range space.Heaters {
		if h := now[id]; h != nil && !known[id] {
			here := ledger.Stand{Heater: id, Place: ledger.Place{Site: h.Site, Space: h.Space, Node: h.Configured}}
			out = append(out, course{id, h, []ledger.Stand{here}})
		}
	}
	return out
}

// staysIn tells which nodes the heater carried while it was in a space.
func (c course) staysIn(space *fold.SpaceView, log []ledger.EntryRow) (out []stay) {
	for i, s := range c.stands {
		if s.Site != space.Site || s.Space != space.ID {
			continue
		}
		from, to := c.span(i)
		for _, one := range stays(c.view(i), c.fittings(i, log)) {
			if one.From, one.To = max(one.From, from), min(one.To, to); one.From < one.To {
				out = append(out, one)
			}
		}
	}
	return out
}

// span is the time of the i-th stand.
func (c course) span(i int) (from, to reading.Instant) {
	from, to = c.stands[i].At, never
	if from == 0 {
		from = always
	}
	if i+1 < len(c.stands) {
		to = c.stands[i+1].At
	}
	return from, to
}

// view is the heater as the i-th stand has it; which node it carries now is
// known of the last one only.
func (c course) view(i int) *fold.HeaterView {
	if i == len(c.stands)-1 && c.now != nil {
		return c.now
	}
	return &fold.HeaterView{Heater: fleet.Heater{ID: c.heater}, Configured: c.stands[i].Node}
}

// fittings are the entries that count beside the i-th stand: those since the
// configuration named its node, for whoever wrote that knew what was fitted.
func (c course) fittings(i int, log []ledger.EntryRow) []ledger.EntryRow {
	for i > 0 && c.stands[i-1].Node == c.stands[i].Node {
		i--
	}
	since, _ := c.span(i)
	n, _ := slices.BinarySearchFunc(log, since, func(r ledger.EntryRow, at reading.Instant) int {
		if r.At < at {
			return -1
		}
		return 1
	})
	return log[n:]
}
