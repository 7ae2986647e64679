package fold

import (
	"cmp"
	"slices"

	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// Outcomes are what stands at the end of time, each list in the order of the
// configuration.
type Outcomes struct {
	Burns     []outcome.Burn // those not told before, by their end
	Hours     []outcome.Hours
	Services  []outcome.Service
	Exposures []outcome.Exposure
	Trends    []outcome.Trend
}

// Finish closes the record at the time of the newest line: nothing can
// overtake anything any more. The engine is not to be used afterwards.
func (e *Engine) Finish() Outcomes {
	e.effects.Burns = nil
	for _, h := range e.heaters {
		e.believe(h)
		h.settleAll()
		h.giveUp(e.now)
	}
	for _, h := range e.heaters {
		h.weigh(end)
		e.conclude(h, true)
	}
	out := Outcomes{Burns: e.effects.Burns}
	slices.SortStableFunc(out.Burns, func(a, b outcome.Burn) int {
		return cmp.Or(cmp.Compare(a.End, b.End), cmp.Compare(a.Heater, b.Heater))
	})
	for _, h := range e.heaters {
		out.Hours = append(out.Hours, h.hoursOutcome(&h.Settled, e.now))
		for _, s := range h.standings(e.now) {
			out.Services = append(out.Services, s.Outcome(h.ID, e.now))
		}
		if t, ok := h.trend(e.now); ok {
			out.Trends = append(out.Trends, t)
		}
	}
	for _, s := range e.sites {
		for _, sp := range s.spaces {
			out.Exposures = append(out.Exposures, sp.exposure(e.now))
		}
	}
	return out
}

// end is later than anything.
const end = reading.Instant(1<<63 - 1)

func (h *heater) settleAll() {
	for i := range h.Pending {
		h.settleOne(i)
	}
	h.Pending, h.soft, h.Spoilt = nil, nil, 0
	h.applyMarks(&h.Settled, end)
	h.followOpen()
	h.Live = h.Settled
}

// giveUp ends the burn that a silent node left open. What counts is when the
// last reading was taken, not when it came, so that lateness changes nothing.
func (h *heater) giveUp(now reading.Instant) {
	w := &h.Settled
	if b, ended := w.Burner.GiveUp(now, w.Every.Expected(h.promised(w.At)), &h.rules.Burner); ended {
		w.close(h, &b)
		last := w.Last
		h.addOpen(&last)
		h.Live = h.Settled
	}
}

func (h *heater) hoursOutcome(w *Witness, now reading.Instant) outcome.Hours {
	r := w.Burner.HoursAt(now)
	if r.Source == "" {
		r.Source = "counter" // nothing was heard: the meter's reading stands
	}
	return outcome.Hours{
		Type: "hours", At: now, Heater: h.ID,
		Hours: h.HoursAtStart + r.Hours, Low: h.HoursAtStart + r.Low, High: h.HoursAtStart + r.High,
		Source: r.Source, Burns: r.Burns, Ignitions: r.Ignitions,
	}
}

func (h *heater) trend(now reading.Instant) (outcome.Trend, bool) {
	t, ok := shutdown.TrendOf(h.Faults, h.Settled.Burner.HoursAt(now).Hours, &h.rules.Shutdown)
	if !ok {
		return outcome.Trend{}, false
	}
	return outcome.Trend{
		Type: "trend", At: now, Heater: h.ID, Endings: t.Endings, Hours: t.Hours,
		LaplaceZ: t.LaplaceZ, Shape: t.Shape,
		MTBFH: t.MTBFH, MTBFLowH: t.LowH, MTBFHiH: t.HighH, Verdict: t.Verdict,
	}, true
}

// holdsUntil is up to when the last CO of a heater's unit stands for the air, as
// for the alarms: one that a person took off says nothing of it since, and its
// place is measured by whatever else is there. One that was put in its place, and
// tells no CO, has measured nothing better.
func (h *heater) holdsUntil(now reading.Instant) reading.Instant {
	if n := len(h.Before); n > 0 && h.node == "" {
		return min(now, h.Before[n-1].Until)
	}
	return now
}

// exposure sums up a space: as bad as its worst sensor, covered as well as
// its best.
func (s *space) exposure(now reading.Instant) outcome.Exposure {
	o := outcome.Exposure{Type: "exposure", At: now, Site: s.site.ID, Space: s.ID}
	for _, h := range s.heaters {
		r := h.Settled.Air.At(h.holdsUntil(now))
		o.PeakPPM = max(o.PeakPPM, r.Peak)
		o.TWA15PPM = max(o.TWA15PPM, r.HighTWA15PPM)
		o.TWA8hPPM = max(o.TWA8hPPM, r.HighTWA8hPPM)
		o.COHbPercent = max(o.COHbPercent, r.HighCOHbPercent)
		o.Coverage = max(o.Coverage, r.Coverage)
	}
	if a := s.airChanges(); a != nil {
		o.AirChangesPH = &a.PerH
	}
	return o.Rounded()
}
