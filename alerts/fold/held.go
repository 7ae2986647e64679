package fold

import (
	"fmt"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/ingest/reading"
)

// Figures that are held are looked at from this long after the last CO on.
// Common practice, no source.
const heldAfter = 5 * time.Minute

// lookAtHeldAir compares with the site's limits what a space's air may have
// come to since one of its sensors was last heard: the worse end, for silence
// makes no air safe, and what another reads is of another spot. It raises; it
// never clears.
func (e *Engine) lookAtHeldAir(h *heater) {
	if h.space == nil || !e.holds(h) && !h.justLeft(e.now) || !h.Live.Air.MayReach(h.site.Limits) {
		return
	}
	f := h.Live.Air.At(h.holdsUntil(e.now))
	for _, m := range h.held(&f) {
		if m.kind != alarm.COCeiling && m.over() && !e.alarmed(h.airKey(m.kind)) {
			e.raiseHeld(h, m, &f)
		}
	}
}

// held are the measures of the live copy with the averages and the dose as they
// are held. The last reading stands as it was.
func (h *heater) held(f *exposure.Figures) [4]measure {
	all := h.measures(&h.Live)
	for i, value := range [4]float64{0, f.TWA15PPM, f.TWA8hPPM, f.COHbPercent} {
		all[i].value = max(all[i].value, value)
	}
	return all
}

// say gives what the heater's sensor says of each measure: now, or as it is held
// since it fell silent.
func (e *Engine) say(h *heater) [4]measure {
	if !e.holds(h) {
		return h.measures(&h.Live)
	}
	f := h.Live.Air.At(e.now)
	return h.held(&f)
}

// holds reports whether the last CO of the heater's unit stands for the air
// since. A unit that a person took off says nothing of the air there.
func (e *Engine) holds(h *heater) bool {
	return h.node != "" && h.Live.Air.LastPPM > 0 && e.muteOfCO(h)
}

// justLeft reports whether the heater's unit was taken off since it was last
// looked at: what it said last stands for the minutes up to then.
func (h *heater) justLeft(now reading.Instant) bool {
	until := h.holdsUntil(now)
	return h.node == "" && h.Live.Air.LastPPM > 0 && until < now && now.Sub(until) <= time.Minute
}

func (e *Engine) raiseHeld(h *heater, m measure, f *exposure.Figures) {
	h.space.still &^= m.bit
	c := alarm.Condition{
		Key: h.airKey(m.kind), Active: true, Known: true, Since: e.now,
		Value: m.value, Limit: m.limit, HasValue: true, Unit: m.unit,
	}
	c.Findings.Heaters = h.space.ids()
	c.Findings.Sure = e.heldFrom(h, f)
	c.Findings.Coverage = coverageOf(f, m.kind)
	e.observe(c)
}

// heldFrom says what a held figure rests on, and what is measured beside it.
func (e *Engine) heldFrom(h *heater, f *exposure.Figures) string {
	ago := lasted(e.now.Sub(h.Live.Air.Last))
	if !h.space.others(h, e.measuresCO) {
		return fmt.Sprintf("the last CO there, %.0f ppm %s ago, is held", f.PPM, ago)
	}
	beside := 0.0
	for _, o := range h.space.heaters {
		if o != h && e.measuresCO(o) {
			beside = max(beside, o.Live.Air.LastPPM)
		}
	}
	return fmt.Sprintf("the last CO of one unit there, %.0f ppm %s ago, is held, while another reads %.0f ppm", f.PPM, ago, beside)
}

// lasted writes how long something is ago.
func lasted(d time.Duration) string {
	if d < 2*time.Hour {
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}

// muteOfCO reports whether the heater's unit has left out CO that it should have
// told: it goes on without, or its next message is overdue as well. One that
// collects its readings owes none in between.
func (e *Engine) muteOfCO(h *heater) bool {
	a, upTo := &h.Live.Air, h.Live.At
	if e.now.Seconds(h.Heard) > exposure.GapFactor*h.Packs.Expected(0).Seconds() {
		upTo = e.now
	}
	quiet := upTo.Sub(a.Last)
	return quiet >= heldAfter && quiet.Seconds() > exposure.GapFactor*a.Within
}

// measuresCO reports whether the heater's unit measures CO now, with a sensor
// that nobody has to doubt.
func (e *Engine) measuresCO(h *heater) bool {
	return h.tells(reading.CO) && h.Live.Air.Count > 0 && !e.muteOfCO(h) && !e.suspects(h)
}
