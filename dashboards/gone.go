package dashboards

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// gone is a space that the configuration has no more, or a site with its
// spaces. What was measured and done there is kept for ever.
type gone struct {
	ledger.Place
	At       *fold.SiteView  // its site
	Whole    bool            // the site is gone: its time zone and limits are not known any more
	From, To reading.Instant // when heaters stood there; From 0: nobody knows
}

// goneOf lists the spaces where heaters stood and that the configuration has
// no more, by site and space.
func (s *Stock) goneOf(all []course) []gone {
	found := map[ledger.Place]gone{}
	for _, c := range all {
		for i, at := range c.stands {
			if at.Site == "" || s.sites[at.Site] != nil && (at.Space == "" || s.space(at.Site, at.Space) != nil) {
				continue
			}
			from, to := c.span(i)
			s.join(found, gone{Place: ledger.Place{Site: at.Site, Space: at.Space}, From: max(from, s.Begin), To: min(to, s.At)})
		}
	}
	return slices.SortedFunc(maps.Values(found), func(a, b gone) int {
		return cmp.Or(strings.Compare(a.Site, b.Site), strings.Compare(a.Space, b.Space))
	})
}

// join adds the time that one heater stood somewhere to that of the others.
func (s *Stock) join(found map[ledger.Place]gone, one gone) {
	if g, ok := found[one.Place]; ok {
		g.From, g.To = min(g.From, one.From), max(g.To, one.To)
		found[one.Place] = g
		return
	}
	one.At, one.Whole = s.site(one.Site), s.sites[one.Site] == nil
	found[one.Place] = one
}

// goneSites lists the sites among them.
func goneSites(all []gone) (out []gone) {
	for _, g := range all {
		switch n := len(out); {
		case !g.Whole:
		case n > 0 && out[n-1].Site == g.Site:
			out[n-1].From, out[n-1].To = min(out[n-1].From, g.From), max(out[n-1].To, g.To)
		default:
			g.Space = ""
			out = append(out, g)
		}
	}
	return out
}

// siteThen gives a site by id, and since when it is gone, if it is; nil where
// nobody ever stood.
func (s *Stock) siteThen(id string, all []course) (*fold.SiteView, *gone) {
	if v := s.sites[id]; v != nil {
		return v, nil
	}
	for _, g := range goneSites(s.goneOf(all)) {
		if g.Site == id {
			return g.At, &g
		}
	}
	return nil, nil
}

// spaceThen gives a space of a site that is or was, and since when it is gone.
func (s *Stock) spaceThen(site, id string, all []course) (*fold.SpaceView, *gone) {
	if v := s.space(site, id); v != nil {
		return v, nil
	}
	for _, g := range s.goneOf(all) {
		if g.Site == site && g.Space == id && id != "" {
			v := &fold.SpaceView{Site: site}
			v.ID, v.Name = id, id
			return v, &g
		}
	}
	return nil, nil
}

// First and Last are the days on which heaters stood there, by the clocks of
// the site, in UTC where the site is gone.
func (g gone) First() service.Date { return service.DateOf(g.From, g.At.Zone) }

// Last is the last of them.
func (g gone) Last() service.Date { return service.DateOf(g.To-1, g.At.Zone) }

// Week begins the last seven of them.
func (g gone) Week() service.Date { return max(g.Last()-6, g.First()) }

// When says from when to when heaters stood there.
func (g gone) When() string {
	switch first, last := g.First(), g.Last(); {
	case g.From <= 0:
		return "until " + last.Words()
	case first == last:
		return "on " + last.Words()
	default:
		return "from " + days(first, last, "to")
	}
}

// Words say what is not known any more, and what is taken instead.
func (g gone) Words() string {
	if !g.Whole {
		return "This space is in the configuration no more; heaters stood there " + g.When() + ". Time zone and limits are those that the site has now."
	}
	return "This site is in the configuration no more; heaters stood there " + g.When() + ". Its time zone is not known any more: days and times are UTC."
}
