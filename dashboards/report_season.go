package dashboards

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// seasonPaper is one site's season.
type seasonPaper struct {
	Site   *fold.SiteView
	Gone   *gone // nil: the configuration has the site
	Sites  []fold.SiteView
	Former []gone // sites that the configuration has no more
	Period period
	Begin  reading.Instant // of the record
	Rows   []seasonRow
	Fuel   float64 // L, estimate over all heaters whose plate rate is known
	Hours  float64 // h
	Ending []outcome.Ending
	CSV    string
}

// seasonRow is one heater's season, as far as it stood at the site.
type seasonRow struct {
	*fold.HeaterView
	Space     string // where it stood last of the site
	Here      spells
	Known     bool // the configuration still has the heater
	Burns     int  // that ended there
	Lit       float64
	Low, High float64 // h, bounds of Lit: a burn across a move may have burned here or there
	Fuel      float64 // L, plate rate times hours; 0: rate not known
	Endings   map[outcome.Ending]int
	Done      int // entries of work
	Overdue   []string
	PutAway   []string // what ends the season and is not done
	Away      string   // when it was put away, if it was
	Stays     bool     // it stands there now
	Carried   bool     // off or there within a burn
	MTBF      between
	Notes     []string // what the figures do not say
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
	all, err := p.courses(r.Context(), s, "")
	if err != nil {
		return err
	}
	body, err := s.seasonOf(r, all)
	if err != nil {
		return err
	}
	if body.Period, err = p.seasonPeriod(r.URL.Query(), s, &body); err != nil {
		return err
	}
	if err := p.seasonRows(r.Context(), s, all, &body); err != nil {
		return err
	}
	if wantsCSV(r) {
		return body.sheet().send(w)
	}
	return p.show(w, r, "report_season", Page{Title: "Season of " + body.Site.Name, Here: "reports", At: s.At, Zone: body.Site.Zone}, body)
}

// seasonOf finds the site that is asked for, the first where none is.
func (s *Stock) seasonOf(r *http.Request, all []course) (seasonPaper, error) {
	body := seasonPaper{CSV: csvLink(r), Ending: outcome.Endings(), Sites: s.Sites, Former: goneSites(s.goneOf(all)), Begin: s.Begin}
	id := r.URL.Query().Get("site")
	if id == "" && len(s.Sites) > 0 {
		id = s.Sites[0].ID
	}
	if id == "" {
		return body, problem(http.StatusNotFound, "There are no sites.")
	}
	if body.Site, body.Gone = s.siteThen(id, all); body.Site == nil {
		return body, notFound("site", id)
	}
	return body, nil
}

// seasonPeriod is the season up to today, or up to the last day of a site that
// is gone, where nothing else is asked for.
func (p *pages) seasonPeriod(q url.Values, s *Stock, body *seasonPaper) (period, error) {
	last := service.DateOf(s.At, body.Site.Zone)
	if body.Gone != nil {
		last = body.Gone.Last()
	}
	if q.Get("from") == "" && q.Get("to") == "" {
		q.Set("from", p.seasonStart(last).String())
		q.Set("to", last.String())
	}
	return periodOf(q, body.Site.Zone, s.At, 30, mostReportDays)
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

func (p *pages) seasonRows(ctx context.Context, s *Stock, all []course, body *seasonPaper) error {
	for _, c := range all {
		here := c.at(body.Site.ID, body.Period.From, body.Period.To)
		if len(here) == 0 {
			continue
		}
		row := seasonRow{HeaterView: c.view(len(c.stands) - 1), Here: here, Known: c.now != nil, Endings: map[outcome.Ending]int{}}
		row.Space, row.Stays = c.last(body.Site.ID), c.stands[len(c.stands)-1].Site == body.Site.ID
		if err := p.fillRow(ctx, &row, body.Period, s.At); err != nil {
			return err
		}
		row.note(s, c, body.Period)
		body.Fuel += row.Fuel
		body.Hours += row.Lit
		body.Rows = append(body.Rows, row)
	}
	return nil
}

func (p *pages) fillRow(ctx context.Context, row *seasonRow, in period, now reading.Instant) error {
	burns, err := p.o.Ledger.Endings(ctx, row.ID, in.From, in.To)
	if err != nil {
		return err
	}
	var last reading.Instant // end of a burn
	for i := range burns {
		row.burned(burns[i], in)
		last = max(last, burns[i].End)
	}
	row.burning(max(last, row.LitSince), now, in)
	row.Fuel = row.Lit * row.BurnLPerH
	entries, err := p.o.Ledger.Entries(ctx, row.ID, in.From, in.To.Add(record.WrittenWithin))
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Withdrawn == nil && row.Here.has(e.When()) {
			if p.closes(e.Entry) {
				row.Away = clock(e.When(), in.Zone)
			}
			row.Done += len(slices.DeleteFunc(tasksOf(e.Entry), func(t string) bool { return entryTitles[t] != "" }))
		}
	}
	row.MTBF = meanBetween(row.Lit, row.Endings[outcome.Unexplained])
	if row.Stays {
		row.leftOver(p)
	}
	return nil
}

// burned counts a burn where it ended, and its hours where it burned. When in
// it the heater was carried off, the configuration says only roughly.
func (r *seasonRow) burned(b ledger.EndingRow, in period) {
	if r.Here.has(b.End) {
		r.Burns++
		r.Endings[b.Ending]++
	}
	here := r.Here.hours(b.Start, b.End)
	r.share(here, here, spells{{in.From, in.To}}.hours(b.Start, b.End)-here)
}

// share adds hours of one burn: so many here, at most so many, and so many
// that the heater burned elsewhere by then, which may have been here too.
func (r *seasonRow) share(here, most, elsewhere float64) {
	if here == 0 {
		return
	}
	r.Lit, r.High = r.Lit+here, r.High+most+elsewhere
	if elsewhere > 0 {
		r.Carried = true
		return
	}
	r.Low += here
}

// burning adds the hours so far of the burn in progress, from an instant on. It
// is no burn and has no ending yet.
func (r *seasonRow) burning(from, now reading.Instant, in period) {
	if !r.HeaterView.Lit {
		return
	}
	so := r.Here.hours(from, r.LitSeen)
	if so == 0 {
		return
	}
	most := r.Here.hours(from, now)
	r.share(so, most, spells{{in.From, in.To}}.hours(from, r.LitSeen)-so)
	text := fmt.Sprintf("is burning: %s h of its hours are of the burn in progress, which is no burn of the table until it ends", atLeast(so))
	if fixed(most, 1) != fixed(so, 1) {
		text += fmt.Sprintf("; %s h if it burned on since it was heard", fixed(most, 1))
	}
	r.Notes = append(r.Notes, text+".")
}

// atLeast writes hours that are more than none.
func atLeast(h float64) string {
	if h < 0.05 {
		return "less than 0.1"
	}
	return fixed(h, 1)
}

// note says what of the row is of a part of the period only.
func (r *seasonRow) note(s *Stock, c course, in period) {
	if len(r.Here) == 1 && r.Here[0] == (spell{in.From, in.To}) {
		return
	}
	var times []string
	for _, one := range r.Here {
		times = append(times, one.words(in))
	}
	text := "stood here " + strings.Join(times, ", and ")
	switch now := c.stands[len(c.stands)-1].Site; {
	case now == "":
		text += ", and is in the configuration no more"
	case !r.Stays:
		text += ", and stands at " + s.site(now).Name + " now"
	}
	r.Notes = append(r.Notes, text+": what it did meanwhile is counted here, by the times at which the configuration changed.")
	if r.Carried {
		r.Notes = append(r.Notes, fmt.Sprintf("burned across a move: its hours here are between %s and %s h.", fixed(r.Low, 1), fixed(r.High, 1)))
	}
}

// words writes a spell by the part of the period that it leaves out.
func (s spell) words(in period) string {
	from, to := clock(s.From, in.Zone), clock(s.To, in.Zone)
	switch {
	case s.From == in.From && s.To == in.To:
		return "all the time"
	case s.From == in.From:
		return "until " + to
	case s.To == in.To:
		return "from " + from
	default:
		return "from " + from + " to " + to
	}
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

// closes reports whether what is written down ends a heater's season.
func (p *pages) closes(e record.Entry) bool {
	return slices.ContainsFunc(tasksOf(e), func(task string) bool {
		i := p.o.Plan.Index(task)
		return i >= 0 && endsSeason(p.o.Plan.Tasks[i])
	})
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

func (s seasonPaper) sheet() *sheet {
	head := []string{"heater", "space", "burn_hours", "burns", "fuel_estimate_l", "work_done", "overdue", "put_away", "hours_total", "hours_low", "hours_high", "mtbf_h", "mtbf_low_h", "mtbf_high_h"}
	for _, e := range s.Ending {
		head = append(head, "ending_"+string(e))
	}
	out := newSheet("season", append(head, "burn_hours_low", "burn_hours_high", "notes")...)
	for _, r := range s.Rows {
		row := []string{
			text(r.ID), text(r.Space), fixed(r.Lit, 2), strconv.Itoa(r.Burns), cell(r.BurnLPerH > 0, r.Fuel), strconv.Itoa(r.Done),
			text(strings.Join(r.Overdue, "; ")), text(strings.Join(r.PutAway, "; ")), cell(r.Known, r.Hours.Hours), cell(r.Known, r.Hours.Low), cell(r.Known, r.Hours.High),
			cell(r.MTBF.Hours > 0, r.MTBF.Hours), cell(r.MTBF.Low > 0, r.MTBF.Low), cell(r.MTBF.High > 0, r.MTBF.High),
		}
		for _, e := range s.Ending {
			row = append(row, strconv.Itoa(r.Endings[e]))
		}
		out.row(append(row, fixed(r.Low, 2), fixed(r.High, 2), text(strings.Join(r.Notes, " ")))...)
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
