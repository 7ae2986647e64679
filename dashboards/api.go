package dashboards

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

func (p *pages) apiFleet(w http.ResponseWriter, _ *http.Request) error {
	s := p.take()
	writeJSON(w, http.StatusOK, map[string]any{
		"at": s.At, "sites": s.jsonSites(), "heaters": s.jsonHeaters(choice{}), "alarms": s.jsonAlarms(choice{}),
	})
	return nil
}

// choice is the site or the heater that a list of the API is asked for; empty:
// all.
type choice struct{ site, heater string }

func choiceOf(r *http.Request) choice {
	q := r.URL.Query()
	return choice{q.Get("site"), q.Get("heater")}
}

func (c choice) has(h *fold.HeaterView) bool {
	return (c.site == "" || h.Site == c.site) && (c.heater == "" || h.ID == c.heater)
}

// hasAlarm goes by what the page of the heater tells.
func (s *Stock) hasAlarm(c choice, a *alarm.Alarm) bool {
	h := s.heaters[c.heater]
	return (c.site == "" || a.Site == c.site) && (c.heater == "" || h != nil && s.concerns(a, h))
}

func (s *Stock) jsonSites() []jsonSite {
	out := []jsonSite{}
	for i := range s.Sites {
		out = append(out, jsonOfSite(&s.Sites[i], s.At))
	}
	return out
}

func (s *Stock) jsonHeaters(c choice) []jsonHeater {
	out := []jsonHeater{}
	for i := range s.Heaters {
		if h := &s.Heaters[i]; c.has(h) {
			out = append(out, jsonOfHeater(h, s.At, false))
		}
	}
	return out
}

func (s *Stock) jsonAlarms(c choice) []jsonAlarm {
	out := []jsonAlarm{}
	for i := range s.Alarms {
		if a := &s.Alarms[i]; s.hasAlarm(c, a) {
			out = append(out, s.jsonOfAlarm(a))
		}
	}
	return out
}

func (p *pages) apiSites(w http.ResponseWriter, _ *http.Request) error {
	writeJSON(w, http.StatusOK, p.take().jsonSites())
	return nil
}

func (p *pages) apiSite(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	v := s.sites[r.PathValue("id")]
	if v == nil {
		return notFound("site", r.PathValue("id"))
	}
	writeJSON(w, http.StatusOK, jsonOfSite(v, s.At))
	return nil
}

func (p *pages) apiSpaces(w http.ResponseWriter, r *http.Request) error {
	out, of := []jsonSpace{}, choiceOf(r).site
	for _, site := range p.take().jsonSites() {
		if of == "" || site.Site == of {
			out = append(out, site.Spaces...)
		}
	}
	writeJSON(w, http.StatusOK, out)
	return nil
}

func (p *pages) apiHeaters(w http.ResponseWriter, r *http.Request) error {
	writeJSON(w, http.StatusOK, p.take().jsonHeaters(choiceOf(r)))
	return nil
}

func (p *pages) apiHeater(w http.ResponseWriter, r *http.Request) error {
	h, err := p.heaterOf(r)
	if err != nil {
		return err
	}
	writeJSON(w, http.StatusOK, jsonOfHeater(h, p.take().At, true))
	return nil
}

// How many lines of a record are listed at once; common practice, no source.
const (
	linesListed = 1000
	mostLines   = 10_000
)

// apiBurns lists the newest of a heater's burns between two instants (RFC 3339),
// oldest first, the last seven days where none are given. Those before begin
// before the first of them: to its start goes on.
func (p *pages) apiBurns(w http.ResponseWriter, r *http.Request) error {
	h, err := p.heaterOf(r)
	if err != nil {
		return err
	}
	now, q := p.take().At, r.URL.Query()
	begin, err1 := instantOr(q.Get("from"), now.Add(-7*24*time.Hour))
	end, err2 := instantOr(q.Get("to"), now)
	if err := errors.Join(err1, err2); err != nil {
		return problem(http.StatusUnprocessableEntity, "from and to must be RFC 3339 instants, such as 2026-01-12T06:00:00Z.")
	}
	limit, err := limitOf(q, linesListed, mostLines)
	if err != nil {
		return err
	}
	burns, err := p.o.Ledger.NewestBurns(r.Context(), h.ID, begin, end, limit)
	if err != nil {
		return err
	}
	writeJSON(w, http.StatusOK, notNil(burns))
	return nil
}

// limitOf reads how many lines a list is asked for.
func limitOf(q url.Values, otherwise, most int64) (int, error) {
	n, err := wholeOr(q.Get("limit"), otherwise)
	if err != nil || n < 1 || n > most {
		return 0, problem(http.StatusUnprocessableEntity, "limit must be from 1 to %d.", most)
	}
	return int(n), nil
}

func instantOr(s string, otherwise reading.Instant) (reading.Instant, error) {
	if s == "" {
		return otherwise, nil
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return 0, err
	}
	return reading.InstantOf(t), nil
}

// notNil makes an empty list an empty list in JSON, not null.
func notNil[T any](all []T) []T {
	if all == nil {
		return []T{}
	}
	return all
}

func (p *pages) apiAlarms(w http.ResponseWriter, r *http.Request) error {
	writeJSON(w, http.StatusOK, p.take().jsonAlarms(choiceOf(r)))
	return nil
}

func (p *pages) apiAlarm(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	a, err := p.findAlarm(r.Context(), s, r.PathValue("id"))
	if err != nil {
		return err
	}
	ts, err := p.historyOf(r.Context(), a.ID)
	if err != nil {
		return err
	}
	history := []outcome.Alarm{}
	for _, t := range ts {
		history = append(history, t.Outcome())
	}
	writeJSON(w, http.StatusOK, map[string]any{"alarm": s.jsonOfAlarm(&a), "history": history})
	return nil
}

// apiService lists where every task of every heater stands, or those of one
// site or heater.
func (p *pages) apiService(w http.ResponseWriter, r *http.Request) error {
	s, of := p.take(), choiceOf(r)
	out := []outcome.Service{}
	for i := range s.Heaters {
		h := &s.Heaters[i]
		if !of.has(h) {
			continue
		}
		for _, st := range h.Standings {
			out = append(out, st.Outcome(h.ID, s.At))
		}
	}
	writeJSON(w, http.StatusOK, out)
	return nil
}

// apiTrends lists how the unexplained endings of each heater lie over its
// burner hours, or those of one site or heater; heaters with too few endings
// are left out.
func (p *pages) apiTrends(w http.ResponseWriter, r *http.Request) error {
	s, of := p.take(), choiceOf(r)
	out := []outcome.Trend{}
	for i := range s.Heaters {
		if h := &s.Heaters[i]; of.has(h) && h.Trend != nil {
			out = append(out, *h.Trend)
		}
	}
	writeJSON(w, http.StatusOK, out)
	return nil
}

// apiEntries lists the newest of the service log, oldest first, or those before
// a line of the log; of a site what was done there, wherever the heater stands
// now.
func (p *pages) apiEntries(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	limit, err := limitOf(q, linesListed, mostLines)
	if err != nil {
		return err
	}
	before, err := wholeOr(q.Get("before"), 0)
	if err != nil || before < 0 {
		return problem(http.StatusUnprocessableEntity, "before must be the line of an entry.")
	}
	rows, err := p.entriesBefore(r.Context(), choiceOf(r), before, limit)
	if err != nil {
		return err
	}
	slices.Reverse(rows)
	writeJSON(w, http.StatusOK, notNil(rows))
	return nil
}

func (p *pages) entriesBefore(ctx context.Context, of choice, before int64, limit int) (out []ledger.EntryRow, err error) {
	stood := map[string]course{}
	if of.site != "" {
		if stood, err = p.stood(ctx, p.take(), of.heater); err != nil {
			return nil, err
		}
	}
	for len(out) < limit {
		rows, err := p.o.Ledger.EntriesBefore(ctx, of.heater, before, limit)
		if err != nil || len(rows) == 0 {
			return out, err
		}
		before = rows[len(rows)-1].Line
		for _, e := range rows {
			if of.site == "" || stood[e.Entry.Heater].place(e.When()).Site == of.site {
				out = append(out, e)
			}
		}
	}
	return out[:limit], nil
}

func wholeOr(s string, otherwise int64) (int64, error) {
	if s == "" {
		return otherwise, nil
	}
	return strconv.ParseInt(s, 10, 64)
}

// apiExposure is the CO record of a space over a period, in rows.
func (p *pages) apiExposure(w http.ResponseWriter, r *http.Request) error {
	e, err := p.exposureOf(r.Context(), p.take(), r.URL.Query())
	if err != nil {
		return err
	}
	rows := []map[string]any{}
	for _, x := range e.Rows {
		rows = append(rows, map[string]any{
			"from": x.At, "readings": x.N, "min_ppm": some(x.Seen(), x.Min), "mean_ppm": some(x.Seen(), x.Mean), "max_ppm": some(x.Seen(), x.Max),
			"twa_15min_ppm": some(x.Seen(), x.TWA15), "twa_8h_ppm": some(x.Seen(), x.TWA8h), "cohb_percent": some(x.Seen(), x.COHb), "coverage": x.Coverage,
		})
	}
	h := e.Highest
	writeJSON(w, http.StatusOK, map[string]any{
		"site": e.Site.ID, "space": e.Space.ID, "from": e.Period.From, "to": e.Period.To, "step_s": e.Step.Seconds(), "rows": rows, "note": areaNote,
		"peak_ppm": some(e.Seen, h.Max), "twa_15min_ppm": some(e.Seen, h.TWA15), "twa_8h_ppm": some(e.Seen, h.TWA8h), "cohb_percent": some(e.Seen, h.COHb), "coverage": h.Coverage,
	})
	return nil
}

// How many refused messages are listed unasked, and at most.
const (
	refusedListed = 100
	mostRefused   = 1000
)

// apiRefused lists the newest messages that could not be read.
func (p *pages) apiRefused(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	limit, err := limitOf(q, refusedListed, mostRefused)
	if err != nil {
		return err
	}
	all, err := p.refused(r.Context(), reading.NodeID(q.Get("node")), limit)
	if err != nil {
		return err
	}
	out := []map[string]any{}
	for _, x := range all {
		out = append(out, map[string]any{"at": x.At, "topic": x.Topic, "node": x.Node, "reason": x.Reason, "detail": x.Detail, "payload": x.Payload})
	}
	writeJSON(w, http.StatusOK, out)
	return nil
}
