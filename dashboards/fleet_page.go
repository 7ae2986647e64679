package dashboards

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/dashboards/access"
	"heaterd/ingest/reading"
)

// rowsOnPage bounds what one page of the fleet weighs.
const rowsOnPage = 100

// fleetPage is the fleet: what waits for somebody, then every heater.
type fleetPage struct {
	Duty      *duty
	Attention []card
	More      int
	CanWait   int
	Quiet     bool // nothing waits for anybody
	Silent    int  // heaters whose node is not heard, or never was
	Heaters   int
	Sites     []fold.SiteView
	Site, Q   string
	Rows      []heaterRow
	Found     int
	Pages     pager
	Unlisted  unlistedUnits // only for those who can do something about them
}

// heaterRow is one heater in a list.
type heaterRow struct {
	*fold.HeaterView
	At    *fold.SiteView
	Place *fold.SpaceView // nil: it stands in none that is known
	Worst alarm.Priority
	Next  *taskView // the task that falls due first
	State stateWord
}

// FuelHours gives how many burner hours the fuel lasts at the plate's rate; 0
// where that is not known.
func (r heaterRow) FuelHours() float64 {
	if !r.HasLevel || r.TankL <= 0 || r.BurnLPerH <= 0 {
		return 0
	}
	return r.Level * r.TankL / r.BurnLPerH
}

// stateWord is what a heater does, as a word and a shape.
type stateWord struct{ Word, Class, Shape string }

var (
	lit      = stateWord{"lit", "lit", "●"}
	off      = stateWord{"off", "off", "○"}
	stopped  = stateWord{"planned stop", "off", "□"}
	silent   = stateWord{"not heard", "odd", "?"}
	noNode   = stateWord{"no unit", "off", "–"}
	outOf    = stateWord{"out of service", "off", "⊘"}
	outLit   = stateWord{"out of service, yet lit", "odd", "●"}
	unheard  = stateWord{"never heard", "odd", "?"}
	awaited  = stateWord{"not heard yet", "odd", "?"}
	noFuel   = stateWord{"out of fuel", "odd", "✕"}
	failed   = stateWord{"out, no known reason", "odd", "✕"}
	noMains  = stateWord{"no mains", "odd", "✕"}
	together = stateWord{"out, the whole site at once", "odd", "✕"}
	doings   = []func(*fold.HeaterView) (stateWord, bool){
		func(h *fold.HeaterView) (stateWord, bool) { return outLit, h.OutOfWork && h.Lit && !past(h) },
		func(h *fold.HeaterView) (stateWord, bool) { return outOf, h.OutOfWork },
		func(h *fold.HeaterView) (stateWord, bool) { return noNode, h.Node == "" },
		func(h *fold.HeaterView) (stateWord, bool) { return awaited, h.Fitted != 0 },
		func(h *fold.HeaterView) (stateWord, bool) { return unheard, h.Heard == 0 },
		func(h *fold.HeaterView) (stateWord, bool) { return silent, h.Silent },
		func(h *fold.HeaterView) (stateWord, bool) { return lit, h.Lit },
		func(h *fold.HeaterView) (stateWord, bool) { return stopped, h.Stop },
		func(h *fold.HeaterView) (stateWord, bool) { w := outFor(h); return w, w.Word != "" },
	}
)

// doing tells what a heater does; the first that fits.
func doing(h *fold.HeaterView) stateWord {
	for _, is := range doings {
		if w, ok := is(h); ok {
			return w
		}
	}
	return off
}

// outFor names why a heater is out where it is not its thermostat's doing, as
// far as is known.
func outFor(h *fold.HeaterView) stateWord {
	if h.Last == nil {
		return stateWord{}
	}
	switch h.Last.Ending {
	case outcome.FuelOut:
		return noFuel
	case outcome.SupplyLost:
		return noMains
	case outcome.SiteWide:
		return together
	case outcome.Unexplained:
		return failed
	}
	return stateWord{}
}

func (p *pages) fleet(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	a := s.attention()
	q := r.URL.Query()
	body := fleetPage{
		Duty: s.duty,
		More: a.More, CanWait: len(a.Late), Quiet: len(a.Now) == 0,
		Heaters: len(s.Heaters), Sites: s.Sites, Site: q.Get("site"), Q: line(q.Get("q"), 60),
	}
	body.Attention = s.cards(p.viewAlarms(s, a.Now))
	p.list(&body, s, q)
	if visitor(r).Role.Covers(access.Technician) {
		var err error
		if body.Unlisted, err = p.unlisted(r.Context(), s); err != nil {
			return err
		}
	}
	return p.show(w, r, "fleet", Page{Title: "Fleet", Here: "fleet", Live: true, At: s.At}, body)
}

func (p *pages) list(b *fleetPage, s *Stock, q url.Values) {
	found := s.search(b.Site, b.Q)
	for i := range s.Heaters {
		if h := &s.Heaters[i]; h.Node != "" && (h.Silent || h.Heard == 0) && !h.OutOfWork {
			b.Silent++
		}
	}
	b.Found = len(found)
	b.Pages = newPager(len(found), rowsOnPage, q)
	for _, h := range found[b.Pages.from:b.Pages.to] {
		b.Rows = append(b.Rows, p.row(s, h))
	}
}

// search finds heaters by site and by words in id, node, site or space.
func (s *Stock) search(site, words string) []*fold.HeaterView {
	var out []*fold.HeaterView
	terms := strings.Fields(strings.ToLower(words))
	for i := range s.Heaters {
		h := &s.Heaters[i]
		if (site == "" || h.Site == site) && s.matches(h, terms) {
			out = append(out, h)
		}
	}
	slices.SortStableFunc(out, func(a, b *fold.HeaterView) int {
		return cmp.Or(cmp.Compare(s.site(a.Site).Name, s.site(b.Site).Name), cmp.Compare(a.ID, b.ID))
	})
	return out
}

func (s *Stock) matches(h *fold.HeaterView, terms []string) bool {
	if len(terms) == 0 {
		return true
	}
	text := strings.ToLower(strings.Join([]string{h.ID, string(h.Node), h.Site, s.site(h.Site).Name, s.spaceName(h.Site, h.Space)}, " "))
	for _, t := range terms {
		if !strings.Contains(text, t) {
			return false
		}
	}
	return true
}

// spaceName is a space as people say it; of one that is gone, its id.
func (s *Stock) spaceName(site, id string) string {
	if sp := s.space(site, id); sp != nil {
		return sp.Name
	}
	return id
}

func (p *pages) row(s *Stock, h *fold.HeaterView) heaterRow {
	r := heaterRow{HeaterView: h, At: s.site(h.Site), Place: s.space(h.Site, h.Space), Worst: s.worst[h.ID], State: doing(h)}
	if next := nextTask(h.Standings); next != nil {
		v := p.viewTask(*next, service.DateOf(s.At, r.At.Zone))
		r.Next = &v
	}
	return r
}

// Past reports whether what is known of the heater is how it was, and not how it is.
func (r heaterRow) Past() bool { return past(r.HeaterView) }

func past(h *fold.HeaterView) bool { return h.Silent || h.Node == "" || h.Fitted != 0 }

// LastTold is when a unit on the heater last said anything.
func (r heaterRow) LastTold() reading.Instant { return cmp.Or(r.Heard, r.Known.At) }

// HasCO reports whether the heater's own node ever sent CO.
func (r heaterRow) HasCO() bool { return r.Known.Carries(reading.CO) }

// HasTemp reports whether the heater's own node ever sent a temperature.
func (r heaterRow) HasTemp() bool { return r.Known.Carries(reading.Temp) }

// nextTask gives the task that is worst or falls due first; nil: none does.
func nextTask(all []service.Standing) *service.Standing {
	var best *service.Standing
	for i := range all {
		s := &all[i]
		if s.State == service.OK && s.DueOn == nil {
			continue
		}
		if best == nil || moreUrgent(s, best) {
			best = s
		}
	}
	return best
}

func moreUrgent(a, b *service.Standing) bool {
	if a.State != b.State {
		return a.State.Rank() > b.State.Rank()
	}
	return a.DueOn != nil && (b.DueOn == nil || *a.DueOn < *b.DueOn)
}

// pager cuts a list into pages.
type pager struct {
	Number, Last int // from 1
	from, to     int
	query        url.Values
}

func newPager(items, size int, q url.Values) pager {
	last := max(1, (items+size-1)/size)
	n, err := strconv.Atoi(q.Get("page"))
	if err != nil {
		n = 1
	}
	n = min(max(n, 1), last)
	return pager{Number: n, Last: last, from: (n - 1) * size, to: min(n*size, items), query: q}
}

// To gives the query of another page of the list.
func (p pager) To(n int) string {
	q := url.Values{}
	for k, v := range p.query {
		if k != "said" && k != "units" {
			q[k] = v
		}
	}
	q.Set("page", strconv.Itoa(n))
	return "?" + q.Encode()
}

// Before is the page before this one, After the one behind it.
func (p pager) Before() int { return p.Number - 1 }

// After is the page behind this one.
func (p pager) After() int { return p.Number + 1 }
