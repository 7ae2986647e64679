package dashboards

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/record"
)

// seasonPaper is one site's season.
type seasonPaper struct {
	Site   *fold.SiteView
	Sites  []*fold.SiteView
	Period period
	Rows   []seasonRow
	Fuel   float64 // L, estimate over all heaters whose plate rate is known
	Hours  float64 // h
	Ending []outcome.Ending
	CSV    string
}

// seasonRow is one heater's season.
type seasonRow struct {
	*fold.HeaterView
	Burns   int
	Lit     float64 // h of burns that ended within the period
	Fuel    float64 // L, plate rate times hours; 0: rate not known
	Endings map[outcome.Ending]int
	Done    int // entries of work
	Overdue []string
	PutAway []string // what ends the season and is not done
	MTBF    between
}

// between is the mean burner time between unexplained endings with its bounds.
type between struct {
	Hours     float64 // h; 0: no such ending
	Low, High float64 // h, 90 %; High is 0 without an ending: there is no upper bound
}

// mtbfConfidence is that of the bounds; at a constant rate, whatever the trend.
const mtbfConfidence = 0.90

func meanBetween(hours float64, endings int) between {
	if hours <= 0 {
		return between{}
	}
	low, high := shutdown.ConstantRate(hours, endings, mtbfConfidence)
	if endings == 0 {
		return between{Low: low}
	}
	return between{Hours: hours / float64(endings), Low: low, High: high}
}

func (p *pages) seasonReport(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	if len(s.View.Sites) == 0 {
		return problem(http.StatusNotFound, "There are no sites.")
	}
	id := cmp.Or(r.URL.Query().Get("site"), s.View.Sites[0].ID)
	body := seasonPaper{Site: s.sites[id], CSV: csvLink(r), Ending: outcome.Endings()}
	if body.Site == nil {
		return notFound("site", id)
	}
	for i := range s.View.Sites {
		body.Sites = append(body.Sites, &s.View.Sites[i])
	}
	q := r.URL.Query()
	if q.Get("from") == "" && q.Get("to") == "" {
		q.Set("from", p.seasonStart(service.DateOf(s.At, body.Site.Zone)).String())
	}
	var err error
	if body.Period, err = periodOf(q, body.Site.Zone, s.At, 30, mostAlarmDays); err != nil {
		return err
	}
	if err := p.seasonRows(r, s, &body); err != nil {
		return err
	}
	if wantsCSV(r) {
		return body.sheet().send(w)
	}
	return p.show(w, r, "report_season", Page{Title: "Season of " + siteName(body.Site), Here: "reports", At: s.At}, body)
}

// seasonStart is the last first day of a season up to today.
func (p *pages) seasonStart(today service.Date) service.Date {
	season := p.o.Season
	if season == (service.HeatingSeason{}) {
		season = service.DefaultSeason()
	}
	year := dayTime(today).Year()
	start := service.NewDate(year, season.Start.Month, season.Start.Day)
	if start > today {
		start = service.NewDate(year-1, season.Start.Month, season.Start.Day)
	}
	return start
}

func (p *pages) seasonRows(r *http.Request, s *Stock, body *seasonPaper) error {
	for i := range s.Heaters {
		h := &s.Heaters[i]
		if h.Site != body.Site.ID {
			continue
		}
		row, err := p.seasonRow(r, h, body.Period)
		if err != nil {
			return err
		}
		body.Fuel += row.Fuel
		body.Hours += row.Lit
		body.Rows = append(body.Rows, row)
	}
	return nil
}

func (p *pages) seasonRow(r *http.Request, h *fold.HeaterView, in period) (seasonRow, error) {
	row := seasonRow{HeaterView: h, Endings: map[outcome.Ending]int{}}
	burns, err := p.o.Ledger.Burns(r.Context(), h.ID, in.From, in.To)
	if err != nil {
		return row, err
	}
	for _, b := range burns {
		row.Burns++
		row.Lit += max(0, min(b.End, in.To).Seconds(max(b.Start, in.From))) / 3600
		row.Endings[b.Ending]++
	}
	row.Fuel = row.Lit * h.BurnLPerH
	entries, err := p.o.Ledger.Entries(r.Context(), h.ID, in.From, in.To.Add(record.WrittenWithin))
	if err != nil {
		return row, err
	}
	for _, e := range entries {
		if when := e.When(); when < in.From || when >= in.To {
			continue
		}
		row.Done += len(slices.DeleteFunc(tasksOf(e.Entry), func(t string) bool { return entryTitles[t] != "" }))
	}
	row.MTBF = meanBetween(row.Lit, row.Endings[outcome.Unexplained])
	row.leftOver(p)
	return row, nil
}

// leftOver lists what is overdue and what ends the season and is not done.
func (r *seasonRow) leftOver(p *pages) {
	for _, st := range r.Standings {
		if st.State == service.Overdue {
			r.Overdue = append(r.Overdue, p.taskTitle(st.Task))
		}
		if i := p.o.Plan.Index(st.Task); i >= 0 && endsSeason(p.o.Plan.Tasks[i]) && st.State != service.OK {
			r.PutAway = append(r.PutAway, p.taskTitle(st.Task))
		}
	}
}

func endsSeason(t service.Task) bool {
	return slices.ContainsFunc(t.Triggers, func(g service.Trigger) bool { return g.Kind == service.SeasonEnd })
}

// Odd counts the endings that needed a person.
func (r seasonRow) Odd() int {
	n := 0
	for e, k := range r.Endings {
		if e != outcome.Satisfied && e != outcome.Planned {
			n += k
		}
	}
	return n
}

func (s seasonPaper) sheet() sheet {
	out := sheet{Name: "season", Head: []string{"heater", "space", "burn_hours", "burns", "fuel_estimate_l", "work_done", "overdue", "put_away", "hours_total", "hours_low", "hours_high", "mtbf_h", "mtbf_low_h", "mtbf_high_h"}}
	for _, e := range s.Ending {
		out.Head = append(out.Head, "ending_"+string(e))
	}
	for _, r := range s.Rows {
		row := []string{
			text(r.ID), text(r.Space), fixed(r.Lit, 2), strconv.Itoa(r.Burns), cell(r.BurnLPerH > 0, r.Fuel), strconv.Itoa(r.Done),
			text(strings.Join(r.Overdue, "; ")), text(strings.Join(r.PutAway, "; ")), fixed(r.Hours.Hours, 2), fixed(r.Hours.Low, 2), fixed(r.Hours.High, 2),
			cell(r.MTBF.Hours > 0, r.MTBF.Hours), cell(r.MTBF.Low > 0, r.MTBF.Low), cell(r.MTBF.High > 0, r.MTBF.High),
		}
		for _, e := range s.Ending {
			row = append(row, strconv.Itoa(r.Endings[e]))
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// OddText names those endings with their numbers.
func (r seasonRow) OddText() string {
	var parts []string
	for _, e := range outcome.Endings() {
		if n := r.Endings[e]; n > 0 && e != outcome.Satisfied && e != outcome.Planned {
			parts = append(parts, strconv.Itoa(n)+" "+endingWords[e])
		}
	}
	return strings.Join(parts, ", ")
}
