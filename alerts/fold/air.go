package fold

import (
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/ingest/reading"
)

// ceiling raises the ceiling alarm at once on any single reading, whatever
// else is known, before the reading is put in its place.
func (e *Engine) ceiling(h *heater, x reading.Sample) {
	limit := h.site.Limits.CeilingPPM
	if limit == 0 || !x.Carries(reading.CO) || float64(x.CO) < limit {
		return
	}
	if h.hasSeen(x) {
		return
	}
	c := alarm.Condition{
		Key: h.airKey(alarm.COCeiling), Active: true, Known: true,
		Value: float64(x.CO), Limit: limit, HasValue: true, Unit: "ppm", Since: h.overSince(x.At, limit),
	}
	if h.space != nil {
		h.space.still &^= ceilingBit
	}
	e.observeAir(h, c, x.At)
}

// overSince gives since when every reading of CO up to one at an instant was at
// a limit, as far as they wait and follow each other: a node that sends what it
// kept tells of long before anybody could be told.
func (h *heater) overSince(at reading.Instant, limit float64) reading.Instant {
	for i := h.waitingAfter(at-1) - 1; i >= 0; i-- {
		p := &h.Pending[i]
		if !p.Carries(reading.CO) {
			continue
		}
		if float64(p.CO) < limit || at.Sub(p.At) > h.rules.Lateness {
			break
		}
		at = p.At
	}
	return at
}

// hasSeen reports whether a reading of CO tells nothing new: it waits already,
// or its place is settled and it is no higher than what was.
func (h *heater) hasSeen(x reading.Sample) bool {
	if x.At <= h.Settled.At {
		return float64(x.CO) <= h.Settled.Air.PeakPPM
	}
	i := h.waitingAfter(x.At - 1)
	return i < len(h.Pending) && h.Pending[i].At == x.At && h.Pending[i].Carries(reading.CO) && h.Pending[i].CO >= x.CO
}

// lookAtAir compares what the live copy knows of a space's air with the
// site's limits. Only CO that is new, and that is a measurement, clears
// anything; what is over its limit counts whenever it was measured. A sensor
// that is doubted clears nothing beside one whose last word is held.
func (e *Engine) lookAtAir(h *heater, fresh bool) {
	k := &h.Live.Known
	if !k.Carries(reading.CO) || h.space == nil {
		return
	}
	clears := fresh && h.Live.Cell.Measures() && !(e.suspects(h) && h.space.others(h, e.holds))
	if !h.calmAir() {
		for _, m := range h.measures(&h.Live) {
			if clears || m.over() {
				e.compare(h, m)
			}
		}
	}
	e.lookAtRise(h, clears)
}

// calmAir reports whether no figure is at its limit and the book is known to
// be quiet about all of them, which is so at nearly every reading.
func (h *heater) calmAir() bool {
	l, s := &h.site.Limits, h.space.still
	short, shift, cohb := h.Live.Air.Newest()
	return s.under(ceilingBit, float64(h.Live.Known.CO), l.CeilingPPM) && s.under(shortBit, short, l.ShortTermPPM) &&
		s.under(shiftBit, shift, l.ShiftPPM) && s.under(doseBit, cohb, l.DosePercent)
}

// under reports whether comparing a figure with its limit would change nothing.
func (s still) under(bit still, value, limit float64) bool {
	return limit == 0 || s&bit != 0 && !(measure{value: value, limit: limit}).over()
}

// measure is one figure of the air beside its limit.
type measure struct {
	kind         alarm.Kind
	bit          still
	value, limit float64
	unit         string
}

// measures are those of one of the heater's copies.
func (h *heater) measures(w *Witness) [4]measure {
	l := &h.site.Limits
	short, shift, cohb := w.Air.Newest()
	ppm, _ := w.lastPPM()
	return [4]measure{
		{alarm.COCeiling, ceilingBit, ppm, l.CeilingPPM, "ppm"},
		{alarm.COShortTerm, shortBit, short, l.ShortTermPPM, "ppm"},
		{alarm.COShift, shiftBit, shift, l.ShiftPPM, "ppm"},
		{alarm.CODose, doseBit, cohb, l.DosePercent, "%"},
	}
}

func (m measure) over() bool { return m.limit > 0 && m.value >= m.limit }

// compare raises or ends one CO alarm of the space. The space is as bad as
// its worst sensor; it is back to normal only when that is, by the dead-band.
func (e *Engine) compare(h *heater, m measure) {
	quiet := func() bool { return e.book.Quiet(h.airKey(m.kind)) }
	if m.limit == 0 || h.space.still.calm(m.bit, m.over(), quiet) {
		return
	}
	if !m.over() {
		if m.value = e.worst(h, m); m.over() {
			return
		}
	}
	c := alarm.Condition{Key: h.airKey(m.kind), Active: m.over(), Known: true, Value: m.value, Limit: m.limit, HasValue: true, Unit: m.unit}
	e.observeAir(h, c, h.Live.Known.COAt)
}

// observeAir completes a condition of a space's air and observes it. Evidence
// that came after the lateness window pages nobody, but is written down. That of a
// clock which most likely is behind is of now, and somebody is called.
func (e *Engine) observeAir(h *heater, c alarm.Condition, at reading.Instant) {
	if h.Clock.Lags() {
		at, c.Since = e.now, e.now
	}
	if c.Since == 0 {
		c.Since = at
	}
	c.Late = c.Active && e.now.Sub(at) > e.rules.Lateness
	if c.Active && h.space != nil {
		c.Findings.Heaters = h.space.ids()
		if id := h.space.source(); id != "" {
			c.Findings.Evidence = []string{"it rises most while " + id + " burns"}
		}
		if c.Findings.Coverage == nil {
			c.Findings.Coverage = coverage(&h.Live.Air, c.Kind)
		}
	}
	e.observe(c)
}

// coverage gives the measured share of the window an average or the dose rests
// on at the newest reading; nil for what is a single reading.
func coverage(air *exposure.Sensor, k alarm.Kind) *float64 {
	f := air.At(air.Last)
	return coverageOf(&f, k)
}

func coverageOf(f *exposure.Figures, k alarm.Kind) *float64 {
	switch k {
	case alarm.COShortTerm:
		return &f.Coverage15
	case alarm.COShift, alarm.CODose:
		return &f.Coverage8h
	}
	return nil
}

func (h *heater) airKey(k alarm.Kind) alarm.Key {
	return alarm.Key{Kind: k, Site: h.Site, Space: h.Space}
}

func (s *space) ids() []string {
	out := make([]string, len(s.heaters))
	for i, h := range s.heaters {
		out[i] = h.ID
	}
	return out
}

// worst gives the highest that any sensor of the space says of a measure; what
// one that fell silent said last is held.
func (e *Engine) worst(h *heater, m measure) float64 {
	worst := m.value
	for _, o := range h.space.heaters {
		if o == h || !o.tells(reading.CO) {
			continue
		}
		for _, other := range e.say(o) {
			if other.kind == m.kind {
				worst = max(worst, other.value)
			}
		}
	}
	return worst
}

// lookAtRise raises co-rising while CO is on its way to a limit.
func (e *Engine) lookAtRise(h *heater, clears bool) {
	key := h.airKey(alarm.CORising)
	r, rising := h.Live.Air.Rising(h.site.Limits, 0)
	if !rising && !clears {
		return
	}
	quiet := func() bool { return e.book.Quiet(key) }
	if h.space.still.calm(risingBit, rising, quiet) || !rising && h.space.otherRising(h) {
		return
	}
	if rising && quiet() && e.toldOfRise(h, r) {
		return
	}
	if !rising {
		r.PPM = h.space.level(r.PPM, h)
	}
	c := alarm.Condition{Key: key, Active: rising, Known: true, Value: r.PPM, Limit: h.site.Limits.Rising(), HasValue: true, Unit: "ppm"}
	if rising {
		c.Findings.HasHarm = true
		c.Findings.HarmEarly = minutes(r.Minutes)
		c.Findings.HarmLate = c.Findings.HarmEarly
	}
	e.observeAir(h, c, h.Live.Known.COAt)
}

// toldOfRise reports whether CO that rises is no news: it is where it was
// heading for, and that is told; or it was there long ago.
func (e *Engine) toldOfRise(h *heater, r exposure.Rise) bool {
	there := alarm.COCeiling
	if h.site.Limits.CeilingPPM == 0 {
		there = alarm.COShortTerm
	}
	return e.alarmed(h.airKey(there)) || r.PPM >= r.Limit && e.now.Sub(h.Live.Known.COAt) > e.rules.Lateness
}

// level is the highest that any sensor of the space says CO stands at, smoothed.
func (s *space) level(ppm float64, except *heater) float64 {
	for _, h := range s.heaters {
		if h != except && h.tells(reading.CO) {
			r, _ := h.Live.Air.Rising(h.site.Limits, 0)
			ppm = max(ppm, r.PPM)
		}
	}
	return ppm
}

// alarmed reports whether the condition of a key holds, delays included.
func (e *Engine) alarmed(key alarm.Key) bool {
	a, ok := e.book.Get(key)
	return ok && a.Active
}

// suspects reports whether the sensor of the heater's unit is doubted, also where
// people are told so later only.
func (e *Engine) suspects(h *heater) bool {
	return h.Live.Cell.Stuck() || h.still&suspectBit == 0 && e.alarmed(h.nodeKey(alarm.COSensorSuspect))
}

func (s *space) otherRising(except *heater) bool {
	for _, h := range s.heaters {
		if h == except || !h.tells(reading.CO) {
			continue
		}
		if _, rising := h.Live.Air.Rising(h.site.Limits, 0); rising {
			return true
		}
	}
	return false
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }
