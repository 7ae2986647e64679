package dashboards

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// qualityDays is how far back alarm quality is measured: 30 days, the usual
// length (ISA-18.2, from memory).
const qualityDays = 30

// qualityPage is how good the alarms are by the usual measures.
type qualityPage struct {
	alarm.Quality
	Measures []measure
	Since    reading.Instant   // the measures are from then on
	For      time.Duration     // the time since
	Names    map[string]string // what alarms are about, by id and by id without its number
}

// measure is one measure beside its usual figure.
type measure struct {
	alarm.Usual
	Value float64
	Share bool // of a whole, shown in percent
	Few   bool // too few alarms or days to judge by
}

// Above reports whether the value is worse than what is acceptable, as far as
// that can be judged.
func (m measure) Above() bool { return !m.Few && m.Value > m.Acceptable }

func (p *pages) quality(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	since := max(s.At.Add(-qualityDays*24*time.Hour), min(s.Begin, s.At))
	body := qualityPage{Since: since, For: s.At.Sub(since), Names: map[string]string{}}
	var m alarm.Meter
	err := p.eachChange(r.Context(), since, s.At+1, func(t *alarm.Transition) {
		m.Add(t)
		body.name(s, &t.Alarm)
	})
	if err != nil {
		return err
	}
	body.Quality = m.Measure(since, s.At+1, p.o.People)
	body.Measures = measures(body.Quality)
	return p.show(w, r, "quality", Page{Title: "Alarm quality", Here: "alarms", At: s.At}, body)
}

// measures puts what was measured beside the usual figures, by their names.
// A rate needs some days and a share of the alarms some alarms as well; a
// count that is above tells something that did happen, however short the time.
func measures(q alarm.Quality) []measure {
	rate := func(v float64) measure { return measure{Value: v, Few: q.Brief()} }
	share := func(v float64) measure { return measure{Value: v, Few: q.Brief() || q.Few(), Share: true} }
	got := map[string]measure{
		"alarms a day and person":          rate(q.PerPersonDay),
		"alarms in ten minutes":            rate(q.PerDay / (24 * 6)),
		"most alarms in any ten minutes":   rate(float64(q.MostIn10Min)),
		"share of time in flood":           {Value: q.FloodShare, Few: q.Brief(), Share: true},
		"share of the ten most frequent":   share(q.WorstShare),
		"chattering alarms":                rate(float64(len(q.Chattering))),
		"stale alarms on any day":          rate(float64(len(q.Stale))),
		"share of priority high and above": share(shareOf(q, alarm.Critical, alarm.High)),
		"share of priority medium":         share(shareOf(q, alarm.Medium)),
	}
	counts := []string{"most alarms in any ten minutes", "chattering alarms", "stale alarms on any day"}
	var out []measure
	for _, u := range alarm.UsualFigures() {
		if m, ok := got[u.Measure]; ok {
			m.Usual = u
			m.Few = m.Few && !(slices.Contains(counts, u.Measure) && m.Value > u.Acceptable)
			out = append(out, m)
		}
	}
	return out
}

// name keeps what an alarm is about, by its id and by this without the number,
// as the measures count it.
func (q *qualityPage) name(s *Stock, a *alarm.Alarm) {
	if q.Names[a.ID] != "" {
		return
	}
	label := s.label(a)
	q.Names[a.ID] = label
	if n := strings.LastIndexByte(a.ID, '.'); n > 0 {
		q.Names[a.ID[:n]] = label
	}
}

func shareOf(q alarm.Quality, ps ...alarm.Priority) float64 {
	sum := 0.0
	for _, t := range q.ByPriority {
		for _, p := range ps {
			if t.Name == string(p) {
				sum += t.Share
			}
		}
	}
	return sum
}
