package dashboards

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"time"

	"heaterd/alerts/exposure"
	"heaterd/alerts/fold"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// mostExposureDays bounds one report: every reading of it is read.
const mostExposureDays = 31

// exposurePage is the CO record of one space.
type exposurePage struct {
	Site       *fold.SiteView
	Space      *fold.SpaceView
	Title      string
	Period     period
	Step       time.Duration
	Rows       []exposureRow
	Highest    exposureRow
	Seen       bool // anything was measured
	Nodes      []reading.NodeID
	CSV        string
	Gone       *gone // nil: the configuration has the space
	Limits     exposure.Limits
	Activity   exposure.Activity
	AirChanges *exposure.AirChange
}

// exposureRow is one stretch of the record: of several nodes the worst, as a
// space is as bad as its worst spot.
type exposureRow struct {
	At       reading.Instant
	N        int     // readings
	Min, Max float64 // ppm, single readings
	Mean     float64 // ppm, of the node with the highest
	TWA15    float64 // highest within the stretch, ppm
	TWA8h    float64
	COHb     float64 // %
	Coverage float64 // measured share of the stretch, 0 to 1
	sum      float64
}

// Figures are the highest figures beside the site's limits.
func (e exposurePage) Figures() []coFigure {
	h, l := e.Highest, e.Limits
	return []coFigure{
		{Name: "Single reading", Value: h.Max, Limit: l.CeilingPPM, Unit: "ppm"},
		{Name: "15 min average", Value: h.TWA15, Limit: l.ShortTermPPM, Unit: "ppm"},
		{Name: "8 h average", Value: h.TWA8h, Limit: l.ShiftPPM, Unit: "ppm"},
		{Name: "Dose estimate", Value: h.COHb, Limit: l.DosePercent, Unit: "% COHb", Estimate: true},
	}
}

// Seen reports whether anything was measured.
func (r exposureRow) Seen() bool { return r.N > 0 }

func (p *pages) exposureReport(w http.ResponseWriter, r *http.Request) error {
	body, err := p.exposureOf(r.Context(), p.take(), r.URL.Query())
	if err != nil {
		return err
	}
	if wantsCSV(r) {
		return body.sheet().send(w)
	}
	body.CSV = csvLink(r)
	return p.show(w, r, "report_exposure", Page{Title: "CO record of " + body.Title, Here: "reports", Zone: body.Site.Zone}, body)
}

func (p *pages) exposureOf(ctx context.Context, s *Stock, q url.Values) (e exposurePage, err error) {
	all, err := p.courses(ctx, s, "")
	if err != nil {
		return e, err
	}
	if e, err = s.exposureAt(all, q); err != nil {
		return e, err
	}
	if e.Period, err = periodOf(q, e.Site.Zone, s.At, 1, mostExposureDays); err != nil {
		return e, err
	}
	e.Step = exposureStep(e.Period.To.Sub(e.Period.From))
	if err := p.addStays(ctx, all, &e); err != nil {
		return e, err
	}
	e.sumUp()
	return e, nil
}

// exposureAt finds the space that is asked for, the first where none is. Of one
// that is gone, the last day stands for today.
func (s *Stock) exposureAt(all []course, q url.Values) (e exposurePage, err error) {
	id, name := q.Get("site"), q.Get("space")
	if !q.Has("site") && len(s.Sites) > 0 {
		id = s.Sites[0].ID
	}
	if e.Site, _ = s.siteThen(id, all); e.Site == nil {
		return e, notFound("site", id)
	}
	if name == "" && len(e.Site.Spaces) > 0 {
		name = e.Site.Spaces[0].ID
	}
	if e.Space, e.Gone = s.spaceThen(id, name, all); e.Space == nil {
		return e, notFound("space", name)
	}
	if e.Gone != nil && q.Get("to") == "" {
		q.Set("to", e.Gone.Last().String())
	}
	if e.Gone != nil && q.Get("from") == "" {
		q.Set("from", q.Get("to"))
	}
	e.Title = e.Space.Name + ", " + e.Site.Name
	e.Limits, e.Activity, e.AirChanges = e.Site.Limits, e.Site.Activity, e.Space.AirChanges
	return e, nil
}

// Uncompared reports whether nobody knows the limits of the place any more.
func (e exposurePage) Uncompared() bool { return e.Gone != nil && e.Gone.Whole }

// addStays joins what was measured in the space by the nodes that were there
// within the period.
func (p *pages) addStays(ctx context.Context, all []course, e *exposurePage) error {
	log, err := p.o.Ledger.Fittings(ctx)
	if err != nil {
		return err
	}
	fitted := indexFittings(log)
	for _, c := range all {
		for _, st := range c.staysIn(e.Space, fitted) {
			if st.From >= e.Period.To || st.To <= e.Period.From {
				continue
			}
			if err := p.addStay(ctx, st, e); err != nil {
				return err
			}
		}
	}
	return nil
}

// addStay joins what a node measured while it was in the space.
func (p *pages) addStay(ctx context.Context, st stay, e *exposurePage) error {
	rows, err := p.nodeExposure(ctx, st, *e)
	if err != nil {
		return err
	}
	if !slices.Contains(e.Nodes, st.Node) {
		e.Nodes = append(e.Nodes, st.Node)
	}
	e.join(rows)
	return nil
}

func exposureStep(d time.Duration) time.Duration {
	switch {
	case d <= 26*time.Hour:
		return 15 * time.Minute
	case d <= 8*24*time.Hour:
		return time.Hour
	default:
		return 8 * time.Hour
	}
}

// nodeExposure walks through one node's readings while it stayed, from one
// shift before the period so that its averages begin full.
func (p *pages) nodeExposure(ctx context.Context, st stay, e exposurePage) ([]exposureRow, error) {
	n := int((e.Period.To.Sub(e.Period.From) + e.Step - 1) / e.Step)
	k := walk{rows: make([]exposureRow, n), from: e.Period.From, step: e.Step, sensor: exposure.NewSensor(e.Activity)}
	var samples []reading.Sample
	from, to := max(st.From, e.Period.From.Add(-shift)), min(st.To, e.Period.To)
	err := p.o.Store.Samples(ctx, st.Node, from, to, func(x reading.Sample) bool {
		if x.Carries(reading.CO) {
			samples = append(samples, x)
		}
		return true
	})
	k.within = interval(samples)
	for _, x := range samples {
		k.apply(x)
	}
	k.finish(e.Period.To)
	return k.rows, err
}

// interval is the usual distance between readings: the middle one of those
// seen, 0 where there are too few.
func interval(xs []reading.Sample) time.Duration {
	var gaps []time.Duration
	for i := 1; i < len(xs) && len(gaps) < 1000; i++ {
		gaps = append(gaps, xs[i].At.Sub(xs[i-1].At))
	}
	if len(gaps) < 3 {
		return 0
	}
	slices.Sort(gaps)
	return max(gaps[len(gaps)/2], exposure.DefaultInterval)
}

// walk fills rows from readings in order of time.
type walk struct {
	rows   []exposureRow
	from   reading.Instant
	step   time.Duration
	within time.Duration
	sensor exposure.Sensor
	cell   trust.COSensor
}

func (k *walk) apply(x reading.Sample) {
	before, last := k.sensor.Measured, k.sensor.Last
	k.sensor.Doubted = k.cell.Stuck() // as the alarm engine has it
	k.sensor.Apply(x.At, float64(x.CO), k.within)
	k.cell.Apply(x.At, x.CO, x.Lit())
	k.spread(last, x.At, k.sensor.Measured-before)
	i := int(x.At.Sub(k.from) / k.step)
	if x.At < k.from || i >= len(k.rows) {
		return
	}
	short, long, cohb := k.sensor.Newest()
	k.rows[i].note(float64(x.CO), short, long, cohb)
}

// spread shares what was measured between two readings among the rows it
// lies in.
func (k *walk) spread(a, b reading.Instant, measured float64) {
	if measured <= 0 || b <= a || b <= k.from {
		return
	}
	first := max(0, int(a.Sub(k.from)/k.step))
	for i := first; i < len(k.rows); i++ {
		start := k.from.Add(time.Duration(i) * k.step)
		if start >= b {
			return
		}
		part := min(b, start.Add(k.step)).Seconds(max(a, start))
		k.rows[i].Coverage += max(0, part) * measured / b.Seconds(a) / k.step.Seconds()
	}
}

func (k *walk) finish(to reading.Instant) {
	for i := range k.rows {
		k.rows[i].Coverage = min(1, k.rows[i].Coverage)
		k.rows[i].At = k.from.Add(time.Duration(i) * k.step)
	}
	if n := len(k.rows); n > 0 { // the last one may be cut short by now
		last := &k.rows[n-1]
		if length := to.Seconds(last.At); length > 0 && length < k.step.Seconds() {
			last.Coverage = min(1, last.Coverage*k.step.Seconds()/length)
		}
	}
}

func (r *exposureRow) note(ppm, short, long, cohb float64) {
	if r.N == 0 {
		r.Min, r.Max = ppm, ppm
	}
	r.N++
	r.sum += ppm
	r.Min, r.Max, r.Mean = min(r.Min, ppm), max(r.Max, ppm), r.sum/float64(r.N)
	r.TWA15, r.TWA8h, r.COHb = max(r.TWA15, short), max(r.TWA8h, long), max(r.COHb, cohb)
}

// join takes another node's rows in: the worst of each figure.
func (e *exposurePage) join(rows []exposureRow) {
	if e.Rows == nil {
		e.Rows = rows
		return
	}
	for i := range e.Rows {
		e.Rows[i].worse(rows[i])
	}
}

func (r *exposureRow) worse(o exposureRow) {
	if o.N == 0 {
		return
	}
	if r.N == 0 || o.Max > r.Max {
		r.Max, r.Mean = max(r.Max, o.Max), o.Mean
	}
	if r.N == 0 || o.Min < r.Min {
		r.Min = o.Min
	}
	r.N += o.N
	r.TWA15, r.TWA8h, r.COHb = max(r.TWA15, o.TWA15), max(r.TWA8h, o.TWA8h), max(r.COHb, o.COHb)
	r.Coverage = max(r.Coverage, o.Coverage)
}

func (e *exposurePage) sumUp() {
	h := &e.Highest
	covered := 0.0
	for _, r := range e.Rows {
		covered += r.Coverage
		h.worse(r)
	}
	h.Coverage = covered / max(float64(len(e.Rows)), 1)
	e.Seen = h.N > 0
}

func (e exposurePage) sheet() *sheet {
	s := newSheet("co-record",
		"site", "space", "from_utc", "readings", "min_ppm", "mean_ppm", "max_ppm", "twa_15min_ppm", "twa_8h_ppm", "cohb_percent", "coverage",
		"limit_ceiling_ppm", "limit_15min_ppm", "limit_8h_ppm", "note",
	)
	note := areaNote
	if e.Gone != nil {
		note += "; " + e.Gone.Words()
	}
	if e.Uncompared() {
		note += " " + uncompared
	}
	for _, r := range e.Rows {
		s.row(
			text(e.Site.ID), text(e.Space.ID), r.At.String(), fixed(float64(r.N), 0), cell(r.Seen(), r.Min), cell(r.Seen(), r.Mean), cell(r.Seen(), r.Max),
			cell(r.Seen(), r.TWA15), cell(r.Seen(), r.TWA8h), cell(r.Seen(), r.COHb), fixed(r.Coverage, 3),
			limitCell(e.Limits.CeilingPPM), limitCell(e.Limits.ShortTermPPM), limitCell(e.Limits.ShiftPPM), note,
		)
	}
	return s
}

// uncompared is said of the air of a site that the configuration has no more.
const uncompared = "Its limits are not known any more either: the figures are compared with none, which is no word that none was passed. The dose is estimated for heavy work."

// NotCompared says so on the page.
func (exposurePage) NotCompared() string { return uncompared }

func cell(known bool, v float64) string {
	if !known {
		return ""
	}
	return fixed(v, 2)
}

func limitCell(v float64) string { return cell(v > 0, v) }
