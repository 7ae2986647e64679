package dashboards

import (
	"net/http"
	"net/url"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// plannedStop keeps a person's word that the heater is, was or will be off.
func (p *pages) plannedStop(w http.ResponseWriter, r *http.Request) error {
	return p.keepStop(w, r, "planned-stop", func(h *fold.HeaterView, s *record.PlannedStop) (err error) {
		zone := p.take().zone(h.Site)
		if s.From, err = clockTime(r.FormValue("from"), "From", zone); err != nil {
			return err
		}
		until, err := clockTime(r.FormValue("until"), "Until", zone)
		if err != nil {
			return err
		}
		s.For, err = p.stopFor(s, until, r.FormValue("for"))
		return err
	})
}

// stopFor gives how long a stop lasts: until an instant, or for a span.
func (p *pages) stopFor(s *record.PlannedStop, until reading.Instant, span string) (time.Duration, error) {
	now := reading.InstantOf(p.o.Now())
	if err := checkStop(s, now); err != nil {
		return 0, err
	}
	if until == 0 {
		return duration(span)
	}
	switch from := s.Begins(now); {
	case s.From == 0 && until <= from:
		return 0, problem(http.StatusUnprocessableEntity, "Until lies before now: for a stop that is over, say in From when it began.")
	case until <= from:
		return 0, problem(http.StatusUnprocessableEntity, "The planned stop would end before it begins.")
	case until > from.Add(longestOff):
		return 0, problem(http.StatusUnprocessableEntity, "That is too long a time: at most %d days at one go.", longestOff/oneDay)
	default:
		return until.Sub(from), nil
	}
}

func checkStop(s *record.PlannedStop, now reading.Instant) error {
	if err := s.Check(now); err != nil {
		return problem(http.StatusUnprocessableEntity, "%s", sentence(err.Error()))
	}
	return nil
}

// endStop keeps a person's word that the heater is wanted on again.
func (p *pages) endStop(w http.ResponseWriter, r *http.Request) error {
	return p.keepStop(w, r, "planned-stop-end", func(h *fold.HeaterView, s *record.PlannedStop) error {
		if s.End = h.Stop || h.NextStop != 0; !s.End {
			return problem(http.StatusConflict, "No planned stop of %s runs or is to come.", h.ID)
		}
		return nil
	})
}

func (p *pages) keepStop(w http.ResponseWriter, r *http.Request, said string, fill func(*fold.HeaterView, *record.PlannedStop) error) error {
	h, err := p.heaterOf(r)
	if err != nil {
		return err
	}
	s := record.PlannedStop{Heater: h.ID}
	if s.Note, err = whole("The note", r.FormValue("note"), longestNote); err != nil {
		return err
	}
	if err := fill(h, &s); err != nil {
		return err
	}
	if s.By, err = p.person(w, r); err != nil {
		return err
	}
	if err := p.write(r.Context(), record.Line{Stop: &s}); err != nil {
		return err
	}
	return back(w, r, "/heaters/"+url.PathEscape(h.ID), said)
}
