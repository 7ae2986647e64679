package dashboards

import (
	"net/http"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// qualityDays is how far back alarm quality is measured: 30 days, the usual
// length (ISA-18.2, from memory).
const qualityDays = 30

// qualityPage is how good the alarms are by the usual measures.
type qualityPage struct {
	alarm.Quality
	Measures []measure
	People   int
	Zone     *time.Location
}

// measure is one measure beside its usual figure.
type measure struct {
	alarm.Usual
	Value float64
	Share bool // of a whole, shown in percent
}

// Good reports whether the value is within what is acceptable.
func (m measure) Good() bool { return m.Value <= m.Acceptable }

func (p *pages) measureQuality(r *http.Request, now reading.Instant) (alarm.Quality, error) {
	begin := now.Add(-qualityDays * 24 * time.Hour)
	ts, err := p.o.Ledger.History(r.Context(), ledger.Filter{From: begin, To: now + 1})
	return alarm.Measure(ts, begin, now+1, p.o.People), err
}

func (p *pages) quality(w http.ResponseWriter, r *http.Request) error {
	s := p.take()
	q, err := p.measureQuality(r, s.At)
	if err != nil {
		return err
	}
	body := qualityPage{Quality: q, People: max(p.o.People, 1), Measures: measures(q)}
	return p.show(w, r, "quality", Page{Title: "Alarm quality", Here: "alarms", At: s.At}, body)
}

// measures puts what was measured beside the usual figures, by their names.
func measures(q alarm.Quality) []measure {
	got := map[string]float64{
		"alarms a day and person":          q.PerPersonDay,
		"alarms in ten minutes":            q.PerDay / (24 * 6),
		"most alarms in any ten minutes":   float64(q.MostIn10Min),
		"share of time in flood":           q.FloodShare,
		"share of the ten most frequent":   q.WorstShare,
		"chattering alarms":                float64(len(q.Chattering)),
		"stale alarms on any day":          float64(len(q.Stale)),
		"share of priority high and above": shareOf(q, alarm.Critical, alarm.High),
		"share of priority medium":         shareOf(q, alarm.Medium),
	}
	var out []measure
	for _, u := range alarm.UsualFigures() {
		if v, ok := got[u.Measure]; ok {
			out = append(out, measure{Usual: u, Value: v, Share: u.Unit == "1" && u.Acceptable > 0 && u.Acceptable < 1})
		}
	}
	return out
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
