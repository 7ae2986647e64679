package dashboards

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// reportsPage is the index of the reports.
type reportsPage struct {
	Sites   []*fold.SiteView
	Spaces  []gone   // that the configuration has no more
	Former  []gone   // sites of the same
	Heaters []string // of the same
	At      reading.Instant
}

// Week is the last seven days by the clocks of a zone.
func (b reportsPage) Week(zone *time.Location) period {
	today := service.DateOf(b.At, zone)
	return period{First: today - 6, Last: today}
}

func (p *pages) reports(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	body := reportsPage{At: s.At}
	for i := range s.View.Sites {
		body.Sites = append(body.Sites, &s.View.Sites[i])
	}
	all, err := p.courses(r.Context(), s, "")
	if err != nil {
		return err
	}
	body.Spaces = slices.DeleteFunc(s.goneOf(all), func(g gone) bool { return g.Space == "" })
	body.Former = goneSites(s.goneOf(all))
	for _, c := range all {
		if c.now == nil {
			body.Heaters = append(body.Heaters, c.heater)
		}
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
	ID      string           // of the heater; empty: all
	Heater  *fold.HeaterView // nil: all, or one that the configuration has no more
	Site    *fold.SiteView   // only what was done there; nil: everywhere
	Gone    *gone            // nil: the configuration has the site
	Entries []entryView
	Tasks   []taskView
	CSV     string
}

func (p *pages) serviceReport(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	all, err := p.courses(r.Context(), s, "")
	if err != nil {
		return err
	}
	body := servicePaper{ID: r.URL.Query().Get("heater"), CSV: csvLink(r)}
	title := "Service record"
	if body.ID != "" {
		i := slices.IndexFunc(all, func(c course) bool { return c.heater == body.ID })
		if i < 0 {
			return notFound("heater", body.ID)
		}
		if body.Heater = all[i].now; body.Heater != nil {
			body.Tasks = p.tasks(s, body.Heater)
		}
		title += " of heater " + body.ID
	}
	if body.Entries, err = p.entries(r.Context(), s, body.ID, 0); err != nil {
		return err
	}
	if id := r.URL.Query().Get("site"); id != "" {
		if body.Site, body.Gone = s.siteThen(id, all); body.Site == nil {
			return notFound("site", id)
		}
		body.Entries = slices.DeleteFunc(body.Entries, func(e entryView) bool { return e.Place.Site != id })
		title += " at " + siteName(body.Site)
	}
	if wantsCSV(r) {
		return entrySheet(body.Entries).send(w)
	}
	return p.show(w, r, "report_service", Page{Title: title, Here: "reports", At: s.At}, body)
}

func entrySheet(all []entryView) sheet {
	s := sheet{Name: "service-record", Head: []string{"at_utc", "heater", "tasks", "by", "meter_h", "litres", "node", "found", "note", "done_at_utc", "until_utc", "from_utc", "site", "space", "withdrawn_at_utc", "withdrawn_by", "withdrawn_why"}}
	for _, e := range all {
		d := ledger.Withdrawal{}
		if e.Withdrawn != nil {
			d = *e.Withdrawn
		}
		s.Rows = append(s.Rows, []string{
			e.At.String(), text(e.Entry.Heater), text(strings.Join(tasksOf(e.Entry), " ")), text(e.Entry.By),
			optional(e.Entry.MeterH), optional(e.Entry.Litres), text(e.Entry.Node), text(e.Entry.Found), text(e.Entry.Note),
			e.When().String(), utc(e.Until), utc(e.From), text(e.Place.Site), text(e.Place.Space),
			utc(d.At), text(d.By), text(d.Why),
		})
	}
	return s
}

func utc(i reading.Instant) string {
	if i == 0 {
		return ""
	}
	return i.String()
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
	known := min(max(body.Period.From, s.Begin), body.Period.To)
	body.Quality = alarm.Measure(ts, known, body.Period.To, p.o.People)
	if n := len(ts); n > mostChangesShown {
		ts, body.More = ts[n-mostChangesShown:], n-mostChangesShown
	}
	body.Changes = p.viewChanges(s, ts)
	return p.show(w, r, "report_alarms", Page{Title: "Alarms, " + body.Period.Words(), Here: "reports", At: s.At}, body)
}

func changeSheet(ts []alarm.Transition) sheet {
	s := sheet{Name: "alarms", Head: []string{
		"at_utc", "id", "kind", "priority", "from", "state", "event", "site", "space", "heater", "value", "limit", "unit", "late", "by", "role", "where", "why", "text",
	}}
	for _, t := range ts {
		a := t.Alarm
		s.Rows = append(s.Rows, []string{
			t.At.String(), text(a.ID), string(a.Kind), string(a.Priority), string(t.From), string(t.To), string(t.Event),
			text(a.Site), text(a.Space), text(a.Heater), cell(a.HasValue, a.Value), cell(a.HasLimit(), a.Limit), text(a.Unit),
			strconv.FormatBool(a.Late), text(t.By), t.Role, text(t.Where), text(t.Why), text(a.Text),
		})
	}
	return s
}
