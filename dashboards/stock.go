package dashboards

import (
	"slices"
	"sync"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
)

// freshFor is how long one taking of stock serves all who ask: taking it
// holds up the alarm loop. Common practice, no source.
const freshFor = time.Second

// stock keeps the last taking of stock.
type stock struct {
	mu    sync.Mutex // guards what follows
	taken time.Time
	last  *Stock
}

// Stock is a view with what is looked up in it often. It is not changed once
// made.
type Stock struct {
	fold.View
	sites   map[string]*fold.SiteView
	heaters map[string]*fold.HeaterView
	nodes   map[reading.NodeID]*fold.HeaterView
	alarms  map[string]*alarm.Alarm
	worst   map[string]alarm.Priority // by heater id: of the alarms about it or its space that need somebody
	common  *time.Location            // of every site; nil: they have several, or that is UTC
	duty    *duty                     // who is on call; nil: nobody says
	seen    int64                     // how far the alarm loop had read
}

// take gives what is known now, at most freshFor old.
func (p *pages) take() *Stock {
	p.stock.mu.Lock()
	defer p.stock.mu.Unlock()
	now := p.o.Now()
	if p.stock.last == nil || now.Sub(p.stock.taken) >= freshFor || now.Before(p.stock.taken) {
		seen := p.seen() // before the view, so that nothing falls between the two
		p.stock.last, p.stock.taken = newStock(p.o.View()), now
		p.stock.last.seen = seen
		p.stock.last.duty = p.dutyAt(now)
	}
	return p.stock.last
}

// seen is how far the alarm loop has read.
func (p *pages) seen() int64 {
	if p.o.Changed == nil {
		return 0
	}
	return p.o.Changed()
}

// seenAt is how far it had read for a page of that time; 0 where the page is
// of an older stock, so that it is fetched again.
func (p *pages) seenAt(at reading.Instant) int64 {
	p.stock.mu.Lock()
	defer p.stock.mu.Unlock()
	if p.stock.last == nil || p.stock.last.At != at {
		return 0
	}
	return p.stock.last.seen
}

// forget makes the next take look anew.
func (p *pages) forget() {
	p.stock.mu.Lock()
	defer p.stock.mu.Unlock()
	p.stock.last = nil
}

func newStock(v fold.View) *Stock {
	s := &Stock{
		View: v, sites: map[string]*fold.SiteView{}, heaters: make(map[string]*fold.HeaterView, len(v.Heaters)),
		nodes: map[reading.NodeID]*fold.HeaterView{}, alarms: map[string]*alarm.Alarm{}, worst: map[string]alarm.Priority{}, common: commonZone(v.Sites),
	}
	for i := range v.Sites {
		s.sites[v.Sites[i].ID] = &v.Sites[i]
	}
	for i := range v.Heaters {
		h := &v.Heaters[i]
		s.heaters[h.ID] = h
		if h.Node != "" {
			s.nodes[h.Node] = h
		}
	}
	for i := range v.Alarms {
		a := &v.Alarms[i]
		s.alarms[a.ID] = a
		if needsSomebody(a) {
			s.mark(a)
		}
	}
	return s
}

// mark notes an alarm at the heaters it is about: its own, all of its space,
// or those of a site that it names.
func (s *Stock) mark(a *alarm.Alarm) {
	about := a.Findings.Heaters
	if a.Heater != "" {
		about = []string{a.Heater}
	} else if sp := s.space(a.Site, a.Space); sp != nil {
		about = sp.Heaters
	}
	for _, id := range about {
		s.worst[id] = a.Priority.Higher(s.worst[id])
	}
}

// commonZone gives the zone that all sites share; nil where they share none.
func commonZone(sites []fold.SiteView) *time.Location {
	other := func(v fold.SiteView) bool { return v.Zone.String() != sites[0].Zone.String() }
	if len(sites) == 0 || slices.ContainsFunc(sites, other) {
		return nil
	}
	return sites[0].Zone
}

// site gives a site by id; one that is not known any more is empty but for
// its id. What is of no site, as a channel that is down, goes by the clocks that
// all sites share.
func (s *Stock) site(id string) *fold.SiteView {
	if v := s.sites[id]; v != nil {
		return v
	}
	v := &fold.SiteView{}
	v.ID, v.Name = id, id
	if id == "" {
		v.Zone = s.common
	}
	return v
}

func (s *Stock) zone(site string) *time.Location { return s.site(site).Zone }

// space gives a space of a site; nil where there is none.
func (s *Stock) space(site, id string) *fold.SpaceView {
	v := s.site(site)
	for i := range v.Spaces {
		if v.Spaces[i].ID == id {
			return &v.Spaces[i]
		}
	}
	return nil
}
