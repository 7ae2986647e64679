package dashboards

import (
	"net/http"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/nearest"
)

// logPage is the service log of all heaters, of one site's, or of one.
type logPage struct {
	Heater  string
	Wrong   string // what is wrong with the choice above
	Site    string
	Sites   []fold.SiteView
	Former  []gone // sites that the configuration has no more
	Entries []entryView
	Pages   pager
}

// entriesOnPage is how many lines of the service log a page lists.
const entriesOnPage = 100

func (p *pages) log(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	q := r.URL.Query()
	body := logPage{Heater: line(q.Get("heater"), 80), Site: q.Get("site"), Sites: s.Sites}
	stood, err := p.courses(r.Context(), s, "")
	if err != nil {
		return err
	}
	body.Former = goneSites(s.goneOf(stood))
	if body.Heater != "" {
		h, ok := called(stood, body.Heater)
		if !ok {
			return p.showLog(w, r, http.StatusNotFound, body, unknownHeater(stood, body.Heater))
		}
		body.Heater = h
	}
	at := byHeater(stood)
	lines, err := p.lines.find(r.Context(), p.o.Ledger, wanted(at, body.Heater, body.Site))
	if err != nil {
		return err
	}
	body.Pages = newPager(len(lines), entriesOnPage, q)
	rows, err := p.o.Ledger.EntriesAt(r.Context(), lines[body.Pages.from:body.Pages.to])
	if err != nil {
		return err
	}
	body.Entries = p.viewEntries(s, rows, at)
	return p.showLog(w, r, http.StatusOK, body, "")
}

// wanted picks the lines of one heater, and what was done while a heater stood
// at one site; empty: of all. nil: every line.
func wanted(at map[string]course, heater, site string) func(ledger.Done) bool {
	if heater == "" && site == "" {
		return nil
	}
	return func(l ledger.Done) bool {
		return (heater == "" || l.Heater == heater) && (site == "" || at[l.Heater].place(l.When).Site == site)
	}
}

func (p *pages) showLog(w http.ResponseWriter, r *http.Request, status int, body logPage, wrong string) error {
	body.Wrong = wrong
	p.render(w, r, status, "log", Page{Title: "Service log", Here: "log", Live: wrong == "", At: p.take().At}, body)
	return nil
}

// unknownHeater says that there is no such heater, and which may be meant.
func unknownHeater(all []course, id string) string {
	ids := make([]string, len(all))
	for i, c := range all {
		ids[i] = c.heater
	}
	text := "There is no heater \"" + id + "\"."
	if like := nearest.Word(id, ids); like != "" {
		text += " Did you mean " + like + "?"
	}
	return text
}
