package fold

import (
	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/ingest/reading"
)

// crest is the highest that an average or the dose came to at readings that
// later ones of the same delivery hide: a unit that sends what it kept tells of
// air that was over a limit and is so no more.
type crest struct {
	value       float64
	coverage    *float64        // measured share of what it rests on
	from, until reading.Instant // first and last reading at which it was at its limit
}

// crests are those of each measure, in their order. The ceiling needs none: it
// is looked at with every reading.
type crests [4]crest

// noteCrests notes which limits a copy, which was just brought on, is at.
func (h *heater) noteCrests(w *Witness) {
	if h.space == nil || !h.overOnAverage(&w.Air) {
		return
	}
	if h.crests == nil {
		h.crests = &crests{}
	}
	at := w.Air.Last
	for i, m := range h.measures(w) {
		c := &h.crests[i]
		if m.kind == alarm.COCeiling || !m.over() {
			continue
		}
		if c.until == 0 {
			c.from = at
		}
		c.until = at
		if m.value >= c.value {
			c.value, c.coverage = m.value, coverage(&w.Air, m.kind)
		}
	}
}

// overOnAverage reports whether anything but the reading itself is at its
// limit, which it hardly ever is.
func (h *heater) overOnAverage(air *exposure.Sensor) bool {
	l := &h.site.Limits
	short, shift, cohb := air.Newest()
	return measure{value: short, limit: l.ShortTermPPM}.over() || measure{value: shift, limit: l.ShiftPPM}.over() ||
		measure{value: cohb, limit: l.DosePercent}.over()
}

// noteSpoilt notes the same of a copy that is made anew, where a sample that
// came behind a later one may have changed it.
func (h *heater) noteSpoilt(w *Witness) {
	if h.Spoilt != 0 && w.At >= h.Spoilt {
		h.noteCrests(w)
	}
}

// lookAtCrests raises what was over its limit in between, unless that is known.
func (e *Engine) lookAtCrests(h *heater) {
	if h.crests == nil {
		return
	}
	all := h.crests
	h.crests = nil
	for i, m := range h.measures(&h.Live) {
		c, key := all[i], h.airKey(m.kind)
		if c.until == 0 || e.toldOf(key, &c) {
			continue
		}
		h.space.still &^= m.bit
		e.observeAir(h, alarm.Condition{
			Key: key, Active: true, Known: true, Since: c.from, Findings: alarm.Findings{Coverage: c.coverage},
			Value: c.value, Limit: m.limit, HasValue: true, Unit: m.unit,
		}, c.until)
	}
}

// toldOf reports whether the last occurrence of an alarm stands for a crest: it
// ended while that held.
func (e *Engine) toldOf(key alarm.Key, c *crest) bool {
	a, ok := e.book.Get(key)
	return ok && a.Raised != 0 && (a.Active || a.Since <= c.until && c.until <= a.Cleared)
}
