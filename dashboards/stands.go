package dashboards

import (
	"context"
	"maps"
	"slices"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/wording"
	"heaterd/ingest/reading"
)

// course is where one heater stood, one place after the other.
type course struct {
	heater string
	now    *fold.HeaterView // nil: the configuration has it no more
	stands []ledger.Stand   // oldest first
}

// courses gives where each heater stood, or one of them: in the order of the
// configuration, then those that it has no more, by id. Of one of which nothing
// was written down, the configuration speaks.
func (p *pages) courses(ctx context.Context, s *Stock, heater string) ([]course, error) {
	all, err := p.o.Ledger.Stands(ctx, heater)
	if err != nil {
		return nil, err
	}
	return s.courses(all, heater), nil
}

func (s *Stock) courses(all []ledger.Stand, heater string) (out []course) {
	stands := map[string][]ledger.Stand{}
	for _, one := range all {
		stands[one.Heater] = append(stands[one.Heater], one)
	}
	for i := range s.Heaters {
		h := &s.Heaters[i]
		if heater != "" && h.ID != heater {
			continue
		}
		if stands[h.ID] == nil {
			stands[h.ID] = []ledger.Stand{{Heater: h.ID, Place: ledger.Place{Site: h.Site, Space: h.Space, Node: h.Configured}}}
		}
		out = append(out, course{h.ID, h, stands[h.ID]})
		delete(stands, h.ID)
	}
	for _, id := range slices.Sorted(maps.Keys(stands)) {
		out = append(out, course{id, nil, stands[id]})
	}
	return out
}

// stood gives the same by heater.
func (p *pages) stood(ctx context.Context, s *Stock, heater string) (map[string]course, error) {
	all, err := p.courses(ctx, s, heater)
	return byHeater(all), err
}

func byHeater(all []course) map[string]course {
	out := make(map[string]course, len(all))
	for _, c := range all {
		out[c.heater] = c
	}
	return out
}

// spell is a time that a heater stood at one site.
type spell struct {
	From, To reading.Instant // To is its end, not in it
}

// at gives when the heater stood at a site, from one instant to another.
func (c course) at(site string, from, to reading.Instant) (out spells) {
	for i, s := range c.stands {
		if s.Site != site {
			continue
		}
		a, b := c.span(i)
		if n := len(out); n > 0 && out[n-1].To == a { // to another space of it
			a, out = out[n-1].From, out[:n-1]
		}
		out = append(out, spell{a, b})
	}
	return out.within(from, to)
}

// place is where the heater stood at an instant; before anybody wrote that
// down, where it stood first.
func (c course) place(at reading.Instant) ledger.Place {
	var out ledger.Place
	for i, s := range c.stands {
		if i == 0 || s.At <= at {
			out = s.Place
		}
	}
	return out
}

// then names a place where the heater stands no more; empty where it does.
func (s *Stock) then(p ledger.Place, c course) string {
	if p.Site == "" {
		return ""
	}
	if now := c.stands[len(c.stands)-1]; p.Site == now.Site && p.Space == now.Space {
		return ""
	}
	return joined(wording.Isolated(s.site(p.Site).Name), wording.Isolated(s.spaceName(p.Site, p.Space)))
}

// last gives the space of a site in which the heater stood last.
func (c course) last(site string) string {
	for _, s := range slices.Backward(c.stands) {
		if s.Site == site {
			return s.Space
		}
	}
	return ""
}

// spells are in order and apart from each other.
type spells []spell

func (all spells) within(from, to reading.Instant) (out spells) {
	for _, s := range all {
		if s.From, s.To = max(s.From, from), min(s.To, to); s.From < s.To {
			out = append(out, s)
		}
	}
	return out
}

// has reports whether an instant lies in one of them.
func (all spells) has(at reading.Instant) bool {
	return slices.ContainsFunc(all, func(s spell) bool { return s.From <= at && at < s.To })
}

// hours gives how much of a stretch of time lies in them, h.
func (all spells) hours(from, to reading.Instant) (sum float64) {
	for _, s := range all.within(from, to) {
		sum += s.To.Seconds(s.From) / 3600
	}
	return sum
}

// staysIn tells which nodes the heater carried while it was in a space.
func (c course) staysIn(space *fold.SpaceView, fitted fittings) (out []stay) {
	for i, s := range c.stands {
		if s.Site == space.Site && s.Space == space.ID {
			out = append(out, c.stays(i, fitted.of(c))...)
		}
	}
	return out
}

// stays tells which nodes the heater carried during the i-th stand, by the
// fittings that are about it.
func (c course) stays(i int, log []ledger.EntryRow) (out []stay) {
	from, to := c.span(i)
	for _, one := range stays(c.view(i), c.since(i, log)) {
		if one.From, one.To = max(one.From, from), min(one.To, to); one.From < one.To {
			out = append(out, one)
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

// since gives the fittings that count beside the i-th stand: those since the
// configuration named its node, for whoever wrote that knew what was fitted.
func (c course) since(i int, log []ledger.EntryRow) []ledger.EntryRow {
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
