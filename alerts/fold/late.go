package fold

import (
	"heaterd/alerts/burner"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// date lets an entry keep the time at which it says that it was done only
// where the engine can go back to it; else it counts from when it was written.
func (e *Engine) date(at reading.Instant, en *record.Entry) {
	switch {
	case en.Done == 0:
		return
	case en.Done > at:
		e.refuse("an entry of heater %q says that it was done after it was written; it counts from when it was written", en.Heater)
	case at.Sub(en.Done) > record.WrittenWithin:
		e.refuse("an entry of heater %q was written down more than %v after it was done; it counts from when it was written", en.Heater, record.WrittenWithin)
	case en.Task == fitNode:
		e.refuse("a unit fitted to heater %q counts from when it was written down", en.Heater)
	default:
		return
	}
	en.Done = 0
}

// when is when the work was done.
func (m *mark) when() reading.Instant {
	if m.Entry.Done == 0 {
		return m.At
	}
	return min(m.Entry.Done, m.At)
}

// since gives the burner hours from when the work was done up to when it was
// written down, or to the newest reading where that is later.
func (h *heater) since(w *Witness, m mark) span {
	if m.when() == m.At {
		return span{}
	}
	now := max(m.At, w.At)
	return h.Trail.since(m.when(), h.Begin, now, w.Burner.HoursAt(now).Run)
}

// runAt is how many burner hours had run when the work was done.
func (h *heater) runAt(w *Witness, m mark) float64 {
	return w.Burner.HoursAt(m.At).Run - h.since(w, m).est
}

// meterAt is the heater's hour meter when the work was done. Where the meter
// was read since, nothing bounds what came before that reading but the time
// that passed.
func (h *heater) meterAt(w *Witness, m mark) service.Hours {
	now, s := h.meter(w, m.At), h.since(w, m)
	if w.Burner.HaveMeter && w.Burner.Meter.At > m.when() {
		s.low, s.high = 0, m.At.Seconds(m.when())/3600
	}
	least := min(now.Low, h.HoursAtStart)
	return service.Hours{Est: max(now.Est-s.est, least), Low: max(now.Low-s.high, least), High: max(now.High-s.low, least)}
}

// readMeter takes what a person read on the hour meter. Of two readings the
// later one stands, whichever was written down first.
func (w *Witness) readMeter(h *heater, m mark) {
	if w.Burner.HaveMeter && w.Burner.Meter.At > m.when() {
		return
	}
	s, now := h.since(w, m), w.Burner.HoursAt(m.At)
	most := m.At.Seconds(m.when()) / 3600
	burned := burner.Span{}
	if m.when() != m.At {
		burned.Est = s.est * 3600
		burned.Low = max(0, s.low-(now.Hours-now.Low)) * 3600
		burned.High = max(s.est, min(most, s.high+now.High-now.Hours)) * 3600
	}
	w.Burner.Anchor(m.when(), m.At, *m.Entry.MeterH-h.HoursAtStart, burned, &h.rules.Burner)
}
