package dashboards

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/dashboards/chart"
	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// shift is what a site's charts look back over: the averaging time of the
// shift limits (29 CFR 1910.1000(d)(1)(i), EH40/2005).
const shift = 8 * time.Hour

// sitePage is one jobsite.
type sitePage struct {
	*fold.SiteView
	Now       reading.Instant
	Procedure []string
	Alarms    []card
	Spaces    []spaceView
	Heaters   []heaterRow
}

// spaceView is one space with its charts.
type spaceView struct {
	*fold.SpaceView
	Site         *fold.SiteView
	Now          reading.Instant
	Figures      []coFigure
	Wide, Narrow template.HTML
	Rows         []chartRow
	HasChart     bool
	Awaited      bool // a unit that stands here was never heard
}

// coFigure is one figure of the air beside its limit.
type coFigure struct {
	Name     string
	Value    float64
	Limit    float64 // 0: the site has none
	Unit     string
	Coverage float64 // share of its time that readings cover, 0 to 1
	Averaged bool    // Coverage means something
	Estimate bool    // no standard limits it: what it is compared with is an action figure
}

// Bound names what the figure is compared with.
func (f coFigure) Bound() string {
	if f.Estimate {
		return "action figure"
	}
	return "limit"
}

// Over reports whether the figure has reached the limit.
func (f coFigure) Over() bool { return f.Limit > 0 && f.Value >= f.Limit }

func (p *pages) site(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	v := s.sites[r.PathValue("id")]
	if v == nil {
		return notFound("site", r.PathValue("id"))
	}
	body := sitePage{SiteView: v, Now: s.At, Procedure: procedure(v)}
	here := func(a *alarm.Alarm) bool { return a.Site == v.ID && needsSomebody(a) }
	body.Alarms = s.cards(p.viewAlarms(s, s.where(here), v.ID))
	for i := range v.Spaces {
		sp, err := p.viewSpace(r.Context(), s, v, &v.Spaces[i], p.unitsOf(r))
		if err != nil {
			return err
		}
		body.Spaces = append(body.Spaces, sp)
	}
	for i := range s.Heaters {
		if s.Heaters[i].Site == v.ID {
			body.Heaters = append(body.Heaters, p.row(s, &s.Heaters[i]))
		}
	}
	return p.show(w, r, "site", Page{Title: v.Name, Here: "fleet", Live: true, At: s.At, Zone: v.Zone}, body)
}

func (p *pages) viewSpace(ctx context.Context, s *Stock, site *fold.SiteView, sp *fold.SpaceView, u Units) (spaceView, error) {
	v := spaceView{SpaceView: sp, Site: site, Now: s.At, Figures: coFigures(site, sp), Awaited: s.awaits(sp)}
	step := stepFor(shift)
	from := s.At.Add(-shift)
	steps, err := p.spaceSteps(ctx, s, sp, from, s.At, step)
	if err != nil || steps == nil {
		return v, err
	}
	c := chart.Chart{
		ID: fmt.Sprintf("space-%d", indexOf(site, sp)), From: from, To: s.At, Zone: site.Zone,
		Title: sp.Name + ", last 8 hours", Desc: "CO and temperature; the same figures stand in the table below the chart.",
		Unknown: unseen(steps, step, s.At), Lines: panels(site, sp, nil, steps, step, u),
	}
	v.Wide, v.Narrow = drawTwice(c)
	v.HasChart = true
	v.Rows = chartRows(steps)
	return v, nil
}

// awaits reports whether a unit in a space was never heard.
func (s *Stock) awaits(sp *fold.SpaceView) bool {
	return slices.ContainsFunc(sp.Heaters, func(id string) bool {
		h := s.heaters[id]
		return h != nil && h.Node != "" && h.Heard == 0
	})
}

func indexOf(site *fold.SiteView, sp *fold.SpaceView) int {
	for i := range site.Spaces {
		if &site.Spaces[i] == sp {
			return i
		}
	}
	return -1
}

// spaceSteps joins the readings of all nodes of a space: of CO the highest,
// of temperature the lowest counts, for a space is as bad as its worst spot.
// nil: no node there.
func (p *pages) spaceSteps(ctx context.Context, s *Stock, sp *fold.SpaceView, from, to reading.Instant, step time.Duration) ([]store.Step, error) {
	var all []store.Step
	for _, id := range sp.Heaters {
		h := s.heaters[id]
		if h == nil || h.Node == "" {
			continue
		}
		steps, err := p.o.Store.Rollup(ctx, h.Node, from, to, step)
		if err != nil {
			return nil, err
		}
		if all == nil {
			all = steps
			continue
		}
		for i := range min(len(all), len(steps)) {
			all[i] = worse(all[i], steps[i])
		}
	}
	return all, nil
}

func worse(a, b store.Step) store.Step {
	a.Samples += b.Samples
	if b.CO.N > 0 && (a.CO.N == 0 || b.CO.Max > a.CO.Max) {
		a.CO = b.CO
	}
	if b.Temp.N > 0 && (a.Temp.N == 0 || b.Temp.Min < a.Temp.Min) {
		a.Temp = b.Temp
	}
	return a
}

// coFigures are the figures of a space beside the site's limits.
func coFigures(site *fold.SiteView, sp *fold.SpaceView) []coFigure {
	if !sp.HasCO {
		return nil
	}
	l, latest := site.Limits, "Now"
	if !sp.COHeard {
		latest = "Last reading"
	}
	return []coFigure{
		{Name: latest, Value: sp.COPPM, Limit: l.CeilingPPM, Unit: "ppm"},
		{Name: "15 min average", Value: sp.Air.TWA15PPM, Limit: l.ShortTermPPM, Unit: "ppm", Coverage: sp.Air.Coverage15, Averaged: true},
		{Name: "8 h average", Value: sp.Air.TWA8hPPM, Limit: l.ShiftPPM, Unit: "ppm", Coverage: sp.Air.Coverage8h, Averaged: true},
		{Name: "Dose estimate", Value: sp.Air.COHbPercent, Limit: l.DosePercent, Unit: "% COHb", Coverage: sp.Air.Coverage, Averaged: true, Estimate: true},
	}
}

// Zone is the site's.
func (v spaceView) Zone() *time.Location { return v.Site.Zone }
