package dashboards

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// mostServiceDays bounds the period of a service record, of which only what is
// in it is shown.
const mostServiceDays = 20 * 366

// How many entries the page shows, the newest, and how many the CSV reads at a
// time: of a large fleet there are millions. Common practice, no source.
const (
	mostEntriesShown = 2000
	entriesAtOnce    = 1000
)

// servicePaper is the service record of one heater, or of all.
type servicePaper struct {
	ID      string           // of the heater; empty: all
	Heater  *fold.HeaterView // nil: all, or one that the configuration has no more
	At      *fold.SiteView   // only what was done there; nil: everywhere
	Gone    *gone            // nil: the configuration has the site
	Sites   []fold.SiteView  // to choose from
	Former  []gone           // of the same those that the configuration has no more
	Period  *period          // nil: all that was ever written down
	Entries []entryView
	More    int // older ones, which the CSV has
	Tasks   []taskView
	CSV     string
}

func (p *pages) serviceReport(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	all, err := p.courses(r.Context(), s, "")
	if err != nil {
		return err
	}
	body := servicePaper{ID: line(r.URL.Query().Get("heater"), 80), CSV: csvLink(r), Sites: s.Sites, Former: goneSites(s.goneOf(all))}
	if err := body.choose(s, all, r.URL.Query()); err != nil {
		return err
	}
	at := byHeater(all)
	lines, err := p.lines.find(r.Context(), p.o.Ledger, body.wants(at))
	if err != nil {
		return err
	}
	if wantsCSV(r) {
		return p.sendEntries(w, r, lines, func(rows []ledger.EntryRow) []entryView { return p.viewEntries(s, rows, at) })
	}
	shown := min(len(lines), mostEntriesShown)
	rows, err := p.o.Ledger.EntriesAt(r.Context(), lines[:shown])
	if err != nil {
		return err
	}
	body.Entries, body.More = p.viewEntries(s, rows, at), len(lines)-shown
	if body.Heater != nil {
		body.Tasks = p.tasks(s, body.Heater)
	}
	return p.show(w, r, "report_service", Page{Title: body.Title(), Here: "reports", At: s.At, Zone: body.zone(s)}, body)
}

// choose reads which heater, site and days are asked for.
func (b *servicePaper) choose(s *Stock, all []course, q url.Values) (err error) {
	if b.ID != "" {
		id, ok := called(all, b.ID)
		if !ok {
			return problem(http.StatusNotFound, "%s", unknownHeater(all, b.ID))
		}
		b.ID, b.Heater = id, s.heaters[id]
	}
	if id := q.Get("site"); id != "" {
		if b.At, b.Gone = s.siteThen(id, all); b.At == nil {
			return notFound("site", id)
		}
	}
	if q.Get("from") == "" && q.Get("to") == "" {
		return nil
	}
	days, err := periodOf(q, b.zone(s), s.At, 31, mostServiceDays)
	b.Period = &days
	return err
}

// Site is the id of the site that is asked for; empty: all.
func (b servicePaper) Site() string {
	if b.At == nil {
		return ""
	}
	return b.At.ID
}

// zone is whose days are meant: those of the site, or of where the heater
// stands; nil, UTC, where it is about several.
func (b *servicePaper) zone(s *Stock) *time.Location {
	switch {
	case b.At != nil:
		return b.At.Zone
	case b.Heater != nil:
		return s.zone(b.Heater.Site)
	}
	return nil
}

// wants picks the lines that are asked for; nil: every line.
func (b servicePaper) wants(at map[string]course) func(ledger.Done) bool {
	these := wanted(at, b.ID, b.Site())
	if b.Period == nil {
		return these
	}
	return func(l ledger.Done) bool {
		return l.When >= b.Period.From && l.When < b.Period.To && (these == nil || these(l))
	}
}

// Title says what it is the record of.
func (b servicePaper) Title() string {
	title := "Service record"
	if b.ID != "" {
		title += " of heater " + b.ID
	}
	if b.At != nil {
		title += " at " + b.At.Name
	}
	return title
}

func (p *pages) sendEntries(w http.ResponseWriter, r *http.Request, lines []int64, view func([]ledger.EntryRow) []entryView) error {
	s := newSheet("service-record", "at_utc", "heater", "tasks", "by", "meter_h", "litres", "node", "found", "note", "done_at_utc", "until_utc", "from_utc", "site", "space", "withdrawn_at_utc", "withdrawn_by", "withdrawn_why")
	for part := range slices.Chunk(lines, entriesAtOnce) {
		rows, err := p.o.Ledger.EntriesAt(r.Context(), part)
		if err != nil {
			return err
		}
		for _, e := range view(rows) {
			s.row(e.cells()...)
		}
	}
	return s.send(w)
}

// cells are the entry as a row of the CSV.
func (e entryView) cells() []string {
	d := ledger.Withdrawal{}
	if e.Withdrawn != nil {
		d = *e.Withdrawn
	}
	return []string{
		e.At.String(), text(e.Entry.Heater), text(strings.Join(tasksOf(e.Entry), " ")), text(e.Entry.By),
		optional(e.Entry.MeterH), optional(e.Entry.Litres), text(e.Entry.Node), text(e.Entry.Found), text(e.Entry.Note),
		e.When().String(), utc(e.Until), utc(e.From), text(e.Place.Site), text(e.Place.Space),
		utc(d.At), text(d.By), text(d.Why),
	}
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
