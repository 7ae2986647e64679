package dashboards

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
)

// reportsPage is the index of the reports.
type reportsPage struct {
	Sites       []*fold.SiteView
	First, Last service.Date // the last seven days
}

func (p *pages) reports(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	today := service.DateOf(s.At, nil)
	body := reportsPage{First: today - 6, Last: today}
	for i := range s.View.Sites {
		body.Sites = append(body.Sites, &s.View.Sites[i])
	}
	return p.show(w, r, "reports", Page{Title: "Reports", Here: "reports", At: s.At}, body)
}

// csvLink is the address of the same report as CSV.
func csvLink(r *http.Request) string {
	q := r.URL.Query()
	q.Set("format", "csv")
	return "?" + q.Encode()
}

// servicePaper is the service record of one heater, or of all.
type servicePaper struct {
	Heater  *fold.HeaterView // nil: all
	Entries []entryView
	Tasks   []taskView
	CSV     string
}

func (p *pages) serviceReport(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	id := r.URL.Query().Get("heater")
	body := servicePaper{CSV: csvLink(r)}
	title := "Service record"
	if id != "" {
		if body.Heater = s.heaters[id]; body.Heater == nil {
			return notFound("heater", id)
		}
		body.Tasks = p.tasks(body.Heater, s.zone(body.Heater.Site))
		title += " of heater " + id
	}
	var err error
	if body.Entries, err = p.entries(r.Context(), s, id, 0); err != nil {
		return err
	}
	if wantsCSV(r) {
		return entrySheet(body.Entries).send(w)
	}
	return p.show(w, r, "report_service", Page{Title: title, Here: "reports", At: s.At}, body)
}

func entrySheet(all []entryView) sheet {
	s := sheet{Name: "service-record", Head: []string{"at_utc", "heater", "tasks", "by", "meter_h", "litres", "node", "found", "note"}}
	for _, e := range all {
		s.Rows = append(s.Rows, []string{
			e.At.String(), text(e.Entry.Heater), text(strings.Join(tasksOf(e.Entry), " ")), text(e.Entry.By),
			optional(e.Entry.MeterH), optional(e.Entry.Litres), text(e.Entry.Node), text(e.Entry.Found), text(e.Entry.Note),
		})
	}
	return s
}

func optional(v *float64) string {
	if v == nil {
		return ""
	}
	return fixed(*v, 2)
}

// alarmsPaper is what alarmed in a stretch of time.
type alarmsPaper struct {
	Period  period
	Quality alarm.Quality
	Changes []changeView
	More    int
	CSV     string
}

const (
	mostAlarmDays    = 370
	mostChangesShown = 500
)

func (p *pages) alarmsReport(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	body := alarmsPaper{CSV: csvLink(r)}
	var err error
	if body.Period, err = periodOf(r.URL.Query(), nil, s.At, 7, mostAlarmDays); err != nil {
		return err
	}
	ts, err := p.o.Ledger.History(r.Context(), ledger.Filter{From: body.Period.From, To: body.Period.To})
	if err != nil {
		return err
	}
	if wantsCSV(r) {
		return changeSheet(ts).send(w)
	}
	body.Quality = alarm.Measure(ts, body.Period.From, body.Period.To, p.o.People)
	if n := len(ts); n > mostChangesShown {
		ts, body.More = ts[n-mostChangesShown:], n-mostChangesShown
	}
	body.Changes = p.viewChanges(s, ts)
	return p.show(w, r, "report_alarms", Page{Title: "Alarms, " + body.Period.First.String() + " to " + body.Period.Last.String(), Here: "reports", At: s.At}, body)
}

func changeSheet(ts []alarm.Transition) sheet {
	s := sheet{Name: "alarms", Head: []string{
		"at_utc", "id", "kind", "priority", "from", "state", "event", "site", "space", "heater", "value", "limit", "unit", "late", "by", "role", "where", "why", "text",
	}}
	for _, t := range ts {
		a := t.Alarm
		s.Rows = append(s.Rows, []string{
			t.At.String(), text(a.ID), string(a.Kind), string(a.Priority), string(t.From), string(t.To), string(t.Event),
			text(a.Site), text(a.Space), text(a.Heater), cell(a.HasValue, a.Value), cell(a.HasValue, a.Limit), text(a.Unit),
			strconv.FormatBool(a.Late), text(t.By), t.Role, text(t.Where), text(t.Why), text(a.Text),
		})
	}
	return s
}

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
	entries, err := p.o.Ledger.Entries(r.Context(), h.ID, in.From, in.To)
	if err != nil {
		return row, err
	}
	for _, e := range entries {
		row.Done += len(slices.DeleteFunc(tasksOf(e.Entry), func(t string) bool { return entryTitles[t] != "" }))
	}
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
	out := sheet{Name: "season", Head: []string{"heater", "space", "burn_hours", "burns", "fuel_estimate_l", "work_done", "overdue", "put_away", "hours_total", "hours_low", "hours_high"}}
	for _, e := range s.Ending {
		out.Head = append(out.Head, "ending_"+string(e))
	}
	for _, r := range s.Rows {
		row := []string{
			text(r.ID), text(r.Space), fixed(r.Lit, 2), strconv.Itoa(r.Burns), cell(r.BurnLPerH > 0, r.Fuel), strconv.Itoa(r.Done),
			text(strings.Join(r.Overdue, "; ")), text(strings.Join(r.PutAway, "; ")), fixed(r.Hours.Hours, 2), fixed(r.Hours.Low, 2), fixed(r.Hours.High, 2),
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
