package dashboards

import (
	"net/http"
	"slices"

	"heaterd/alerts/fold"
)

// logPage is the service log of all heaters, of one site's, or of one.
type logPage struct {
	Heater  string
	Site    string
	Sites   []*fold.SiteView
	Former  []gone // sites that the configuration has no more
	Entries []entryView
	Pages   pager
}

// entriesOnPage is how many lines of the service log a page lists.
const entriesOnPage = 100

func (p *pages) log(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	q := r.URL.Query()
	body := logPage{Heater: line(q.Get("heater"), 80), Site: q.Get("site")}
	for i := range s.View.Sites {
		body.Sites = append(body.Sites, &s.View.Sites[i])
	}
	stood, err := p.courses(r.Context(), s, "")
	if err != nil {
		return err
	}
	body.Former = goneSites(s.goneOf(stood))
	if body.Heater != "" {
		h, ok := called(stood, body.Heater)
		if !ok {
			return notFound("heater", body.Heater)
		}
		body.Heater = h
	}
	all, err := p.entries(r.Context(), s, body.Heater, 0)
	if err != nil {
		return err
	}
	if body.Site != "" {
		all = slices.DeleteFunc(all, func(e entryView) bool { return e.Place.Site != body.Site })
	}
	body.Pages = newPager(len(all), entriesOnPage, q)
	body.Entries = all[body.Pages.from:body.Pages.to]
	return p.show(w, r, "log", Page{Title: "Service log", Here: "log", Live: true, At: s.At}, body)
}
