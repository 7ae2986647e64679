package dashboards

import (
	"context"
	"fmt"
	"html/template"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/dashboards/chart"
	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// Widths of the two drawings of a chart, one for desks and one for phones, in
// CSS pixels; the style sheet shows the one that fits.
const (
	wideChart   = 960
	narrowChart = 340
	mostBurns   = 250 // above it the share of time lit is drawn instead
)

// heaterChart is the chart of a heater with the same as a table.
type heaterChart struct {
	Wide, Narrow template.HTML
	Signs        []chart.Sign
	Rows         []chartRow
	Burns        []burnView
	HasBurns     bool
	Zone         *time.Location
	Desc         string
}

// chartRow is one step of the chart as a line of a table.
type chartRow struct {
	At       reading.Instant
	CO, Temp store.Span
	Lit      float64 // share of what was seen, 0 to 1
	Seen     bool
}

// burnView is a burn with the word for its ending.
type burnView struct {
	outcome.Burn
	Word string
	Zone *time.Location
}

// stepFor gives the step of a chart: at most some 340 steps.
func stepFor(d time.Duration) time.Duration {
	switch {
	case d <= 8*time.Hour:
		return 2 * time.Minute
	case d <= 25*time.Hour:
		return 5 * time.Minute
	case d <= 8*24*time.Hour:
		return time.Hour
	case d <= 70*24*time.Hour:
		return 6 * time.Hour
	default:
		return 24 * time.Hour
	}
}

// seasonLength is how far back a season's chart looks.
const seasonLength = 210 * 24 * time.Hour

func (p *pages) heaterChart(ctx context.Context, s *Stock, h *fold.HeaterView, want lookBack, u Units) (heaterChart, error) {
	length := want.For
	if length == 0 {
		length = seasonLength
	}
	to := s.At
	from := to.Add(-length)
	out := heaterChart{Zone: s.zone(h.Site), Signs: chart.Signs()}
	burns, err := p.o.Ledger.Burns(ctx, h.ID, from, to)
	if err != nil {
		return out, err
	}
	step := stepFor(length)
	var steps []store.Step
	if h.Node != "" {
		if steps, err = p.o.Store.Rollup(ctx, h.Node, from, to, step); err != nil {
			return out, err
		}
	}
	out.fill(burns, steps)
	c := chart.Chart{
		ID: "heater-" + want.Key, From: from, To: to, Zone: out.Zone, Flame: true,
		Title: fmt.Sprintf("Heater %s, last %s", h.ID, want.Label), Desc: out.Desc,
		Unknown: unseen(steps, step, to), Lines: panels(s.site(h.Site), s.space(h.Site, h.Space), h.Thermostat, steps, step, u),
	}
	if h.Node == "" {
		c.Unknown = []chart.Stretch{{From: from, To: to}}
	}
	c.Burns, c.Shares = strip(h, burns, steps, step, to)
	out.Wide, out.Narrow = drawTwice(c)
	return out, nil
}

// drawTwice draws for desks and for phones.
func drawTwice(c chart.Chart) (wide, narrow template.HTML) {
	id := c.ID
	c.ID, c.Width = id+"-w", wideChart
	wide = c.Draw()
	c.ID, c.Width = id+"-n", narrowChart
	return wide, c.Draw()
}

func (c *heaterChart) fill(burns []ledger.BurnRow, steps []store.Step) {
	endings := map[outcome.Ending]int{}
	for i := len(burns) - 1; i >= 0; i-- {
		b := burns[i].Burn
		endings[b.Ending]++
		c.Burns = append(c.Burns, burnView{b, endingWords[b.Ending], c.Zone})
	}
	c.HasBurns = len(c.Burns) > 0
	c.Desc = describe(len(burns), endings)
	c.Rows = chartRows(steps)
}

// mostRows is how many lines a table may have to stay readable.
const mostRows = 48

// chartRows gives the steps in which something came as lines of a table, every
// so many-th where they are too many.
func chartRows(steps []store.Step) (rows []chartRow) {
	for _, st := range steps {
		if st.Samples == 0 {
			continue
		}
		row := chartRow{At: st.At, CO: st.CO, Temp: st.Temp, Seen: st.Seen > 0}
		if row.Seen {
			row.Lit = st.Lit / st.Seen
		}
		rows = append(rows, row)
	}
	every := (len(rows) + mostRows - 1) / mostRows
	var out []chartRow
	for i := 0; i < len(rows); i += every {
		out = append(out, rows[i])
	}
	return out
}

// endingWords are the endings as people read them.
var endingWords = map[outcome.Ending]string{
	outcome.Satisfied:   "thermostat satisfied",
	outcome.Planned:     "planned",
	outcome.SupplyLost:  "supply lost",
	outcome.FuelOut:     "fuel ran out",
	outcome.SiteWide:    "the whole site at once",
	outcome.Unexplained: "no known reason",
	outcome.Unknown:     "not seen: the sensor unit was silent",
}

func describe(burns int, endings map[outcome.Ending]int) string {
	text := fmt.Sprintf("%d burns", burns)
	for _, e := range outcome.Endings() {
		if n := endings[e]; n > 0 {
			text += fmt.Sprintf(", %d ended: %s", n, endingWords[e])
		}
	}
	return text + ". The same figures stand in the table below the chart."
}

// strip gives the flame as burns, or as shares where burns would be too many.
func strip(h *fold.HeaterView, burns []ledger.BurnRow, steps []store.Step, step time.Duration, now reading.Instant) ([]chart.Burn, []chart.Share) {
	if len(burns) > mostBurns {
		return oddEndings(burns), shares(steps, step)
	}
	var out []chart.Burn
	for _, b := range burns {
		out = append(out, chart.Burn{Stretch: chart.Stretch{From: b.Start, To: b.End}, Ending: string(b.Ending)})
	}
	if h.Lit {
		out = append(out, chart.Burn{Stretch: chart.Stretch{From: h.LitSince, To: litUntil(h, now)}, Open: true})
	}
	return out, nil
}

// litUntil is up to when the burn in progress was seen: of a heater that is not
// heard nobody knows whether it burns still.
func litUntil(h *fold.HeaterView, now reading.Instant) reading.Instant {
	if past(h) {
		return min(h.LitSeen, now)
	}
	return now
}

// oddEndings keeps the endings that need a person, as marks without a bar.
func oddEndings(burns []ledger.BurnRow) []chart.Burn {
	var out []chart.Burn
	for _, b := range burns {
		if b.Ending != outcome.Satisfied && b.Ending != outcome.Planned && len(out) < mostBurns {
			out = append(out, chart.Burn{Stretch: chart.Stretch{From: b.End, To: b.End}, Ending: string(b.Ending)})
		}
	}
	return out
}

func shares(steps []store.Step, step time.Duration) []chart.Share {
	var out []chart.Share
	for _, s := range steps {
		if s.Seen > 0 {
			out = append(out, chart.Share{Stretch: chart.Stretch{From: s.At, To: s.At.Add(step)}, Lit: s.Lit / step.Seconds()})
		}
	}
	return out
}

// unseen gives the stretches in which nothing was measured, joined.
func unseen(steps []store.Step, step time.Duration, now reading.Instant) []chart.Stretch {
	var out []chart.Stretch
	for _, s := range steps {
		if s.Samples > 0 || s.At.Add(step) > now {
			continue
		}
		if n := len(out); n > 0 && out[n-1].To == s.At {
			out[n-1].To = s.At.Add(step)
			continue
		}
		out = append(out, chart.Stretch{From: s.At, To: s.At.Add(step)})
	}
	return out
}

// panels gives CO with the site's limits and temperature with what it is
// kept between.
func panels(site *fold.SiteView, space *fold.SpaceView, kept *fleet.Thermostat, steps []store.Step, step time.Duration, u Units) []chart.Panel {
	co := chart.Panel{Name: "CO, area reading", Unit: "ppm", Step: step, Least: 10, Marks: coMarks(site)}
	temp := chart.Panel{Name: "Temperature", Unit: u.degreeSign(), Step: step, Least: 5}
	for _, s := range steps {
		if s.CO.N > 0 {
			co.Points = append(co.Points, chart.Point{At: s.At, Min: s.CO.Min, Mean: s.CO.Mean, Max: s.CO.Max})
		}
		if s.Temp.N > 0 {
			temp.Points = append(temp.Points, chart.Point{At: s.At, Min: u.degrees(s.Temp.Min), Mean: u.degrees(s.Temp.Mean), Max: u.degrees(s.Temp.Max)})
		}
	}
	if kept != nil {
		temp.Marks = append(temp.Marks, chart.Mark{Value: u.degrees(kept.SetpointC), Name: "setpoint " + u.Temp(kept.SetpointC)})
	}
	if space != nil {
		temp.Marks = append(temp.Marks, warmthMarks(space, u)...)
	}
	return []chart.Panel{co, temp}
}

func coMarks(site *fold.SiteView) []chart.Mark {
	var out []chart.Mark
	add := func(v float64, name string) {
		if v > 0 {
			out = append(out, chart.Mark{Value: v, Name: name + " " + fixed(v, 0) + " ppm"})
		}
	}
	add(site.Limits.CeilingPPM, "ceiling")
	add(site.Limits.ShortTermPPM, "15 min average limit")
	add(site.Limits.ShiftPPM, "8 h average limit")
	return out
}

func warmthMarks(space *fold.SpaceView, u Units) []chart.Mark {
	var out []chart.Mark
	if c := space.ProtectAboveC; c != nil {
		out = append(out, chart.Mark{Value: u.degrees(*c), Name: "keep above " + u.Temp(*c)})
	}
	if c := space.ProtectBelowC; c != nil {
		out = append(out, chart.Mark{Value: u.degrees(*c), Name: "keep below " + u.Temp(*c)})
	}
	return out
}
