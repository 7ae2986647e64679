package dashboards

import (
	"cmp"
	"net/http"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/service"
)

// servicePage is the visits of the coming fortnight, a site each.
type servicePage struct {
	Days   int
	Site   string
	Sites  []fold.SiteView
	Visits []visitView
}

// visitView is one visit to one site.
type visitView struct {
	Site      *fold.SiteView
	Procedure []string
	Air       []standing   // alarms about the air of the site that are not over
	First     service.Date // day of the earliest task
	Heaters   []heaterWork
	Parts     []service.Item
	Tools     []string
	Cautions  []string
	Work      []service.Task // how it is done
}

// standing is an alarm that whoever comes must know of, by its label.
type standing struct{ ID, Label string }

// heaterWork is the work on one heater.
type heaterWork struct {
	*fold.HeaterView
	Place string
	Tasks []taskView
}

func (p *pages) service(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	body := servicePage{Days: service.VisitHorizon, Site: r.URL.Query().Get("site"), Sites: s.Sites}
	if body.Site != "" && s.sites[body.Site] == nil {
		return notFound("site", body.Site)
	}
	for i := range s.Sites {
		if site := &s.Sites[i]; body.Site == "" || body.Site == site.ID {
			if v, ok := p.visit(s, site); ok {
				body.Visits = append(body.Visits, v)
			}
		}
	}
	slices.SortStableFunc(body.Visits, func(a, b visitView) int { return cmp.Compare(a.First, b.First) })
	return p.show(w, r, "service", Page{Title: "Service", Here: "service", At: s.At}, body)
}

// howItIsDone is the service plan, with what each task takes and its steps.
func (p *pages) howItIsDone(w http.ResponseWriter, r *http.Request) error {
	return p.show(w, r, "plan", Page{Title: "How the work is done", Here: "service", At: p.take().At}, p.o.Plan.Tasks)
}

// visit gathers the work at a site; false: there is none.
func (p *pages) visit(s *Stock, site *fold.SiteView) (visitView, bool) {
	var all []service.HeaterStandings
	for i := range s.Heaters {
		if h := &s.Heaters[i]; h.Site == site.ID {
			all = append(all, service.HeaterStandings{Heater: h.ID, Standings: h.Standings})
		}
	}
	today := service.DateOf(s.At, site.Zone)
	v := service.MakeVisit(p.o.Plan, today, all)
	out := visitView{Site: site, Procedure: procedure(site), Parts: v.Parts, Tools: v.Tools, Cautions: v.Cautions, Work: v.Work, First: 1<<31 - 1}
	for _, a := range s.where(func(a *alarm.Alarm) bool { return a.Site == site.ID && a.Kind.ConcernsPeople() && needsSomebody(a) }) {
		out.Air = append(out.Air, standing{a.ID, s.label(a)})
	}
	for _, hv := range v.Heaters {
		h := s.heaters[hv.Heater]
		work := heaterWork{HeaterView: h, Place: s.spaceName(h.Site, h.Space)}
		for _, st := range hv.Tasks {
			work.Tasks = append(work.Tasks, p.viewTask(st, today))
			out.First = min(out.First, max(dueOr(st.DueOn), today))
		}
		out.Heaters = append(out.Heaters, work)
	}
	return out, len(out.Heaters) > 0
}

// called finds a heater as people write its id.
func called(all []course, id string) (string, bool) {
	for _, c := range all {
		if strings.EqualFold(c.heater, id) {
			return c.heater, true
		}
	}
	return "", false
}

// dayTime gives a date as midnight UTC, for formats that want a time.
func dayTime(d service.Date) time.Time { return d.Start(time.UTC).Time() }
