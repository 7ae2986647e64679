package dashboards

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// reportsPage is the index of the reports.
type reportsPage struct {
	Sites   []fold.SiteView
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

// Month is the last whole month by the clocks of a zone.
func (b reportsPage) Month(zone *time.Location) period {
	y, m, _ := dayTime(service.DateOf(b.At, zone)).Date()
	return period{First: dateOf(time.Date(y, m-1, 1, 0, 0, 0, 0, time.UTC)), Last: dateOf(time.Date(y, m, 0, 0, 0, 0, 0, time.UTC))}
}

// dateOf gives the day of a time of UTC.
func dateOf(t time.Time) service.Date { return service.DateOf(reading.InstantOf(t), time.UTC) }

func (p *pages) reports(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	body := reportsPage{Sites: s.Sites, At: s.At}
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

// alarmsPaper is what alarmed in a stretch of time.
type alarmsPaper struct {
	Period  period
	Quality alarm.Quality
	Changes []changeView
	More    int
	CSV     string
}

// What a report of alarms or of a season holds at most; common practice, no
// source.
const (
	mostReportDays   = 370 // a year, with some days around it
	mostChangesShown = 500 // changes of alarms, on the page; the CSV has all of them
)

func (p *pages) alarmsReport(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	body := alarmsPaper{CSV: csvLink(r)}
	var err error
	if body.Period, err = periodOf(r.URL.Query(), nil, s.At, 7, mostReportDays); err != nil {
		return err
	}
	if wantsCSV(r) {
		return p.sendChanges(w, r, body.Period)
	}
	var m alarm.Meter
	var newest []alarm.Transition
	err = p.eachChange(r.Context(), body.Period.From, body.Period.To, func(t *alarm.Transition) {
		m.Add(t)
		if newest = append(newest, *t); len(newest) == 2*mostChangesShown {
			body.More += mostChangesShown
			newest = append(newest[:0], newest[mostChangesShown:]...)
		}
	})
	if err != nil {
		return err
	}
	if n := len(newest) - mostChangesShown; n > 0 {
		newest, body.More = newest[n:], body.More+n
	}
	known := min(max(body.Period.From, s.Begin), body.Period.To)
	body.Quality = m.Measure(known, body.Period.To, p.o.People)
	body.Changes = p.viewChanges(s, newest)
	return p.show(w, r, "report_alarms", Page{Title: "Alarms, " + body.Period.Words(), Here: "reports", At: s.At}, body)
}

// eachChange hands changes of alarms to f, oldest first. It reads a day at a
// time: a year of a large fleet held whole takes a gigabyte.
func (p *pages) eachChange(ctx context.Context, from, to reading.Instant, f func(*alarm.Transition)) error {
	for from < to {
		end := min(from.Add(oneDay), to)
		ts, err := p.o.Ledger.History(ctx, ledger.Filter{From: from, To: end})
		if err != nil {
			return err
		}
		for i := range ts {
			f(&ts[i])
		}
		from = end
	}
	return nil
}

func (p *pages) sendChanges(w http.ResponseWriter, r *http.Request, in period) error {
	s := newSheet("alarms",
		"at_utc", "id", "kind", "priority", "from", "state", "event", "site", "space", "heater", "value", "limit", "unit", "late", "by", "role", "where", "why", "text",
	)
	err := p.eachChange(r.Context(), in.From, in.To, func(t *alarm.Transition) {
		a := &t.Alarm
		s.row(
			t.At.String(), text(a.ID), string(a.Kind), string(a.Priority), string(t.From), string(t.To), string(t.Event),
			text(a.Site), text(a.Space), text(a.Heater), cell(a.HasValue, a.Value), cell(a.HasLimit(), a.Limit), text(a.Unit),
			strconv.FormatBool(a.Late), text(t.By), t.Role, text(t.Where), text(t.Why), text(a.Text),
		)
	})
	if err != nil {
		return err
	}
	return s.send(w)
}
