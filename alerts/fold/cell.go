package fold

import (
	"fmt"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// lookAtCell raises doubt of the CO sensor. One that was found blind beside
// another stays so until it reads something else: that the air got better
// clears nothing.
func (e *Engine) lookAtCell(h *heater, fresh bool) {
	why, suspect := h.Live.Cell.Suspect()
	since := h.Live.Cell.Began()
	if !suspect && h.Live.At > h.Live.Cell.Newest {
		every, known := h.Live.Air.Every.Learned()
		if !known {
			every = unlearned
		}
		why, suspect = h.Live.Cell.Lost(h.Live.At, every)
		since = h.Live.Cell.Newest
	}
	if !suspect && h.Live.Cell.Zero() {
		since = h.Live.Cell.Since
		if why, suspect = h.blind(); !suspect && e.suspects(h) {
			return
		}
	}
	e.holdNode(h, suspectBit, alarm.COSensorSuspect, suspect, func(c *alarm.Condition) {
		c.Known, c.Since = fresh, since
		c.Findings.Evidence = []string{why}
	})
}

// blind compares a sensor that reads zero with the others of its space.
func (h *heater) blind() (why string, is bool) {
	if h.space == nil {
		return "", false
	}
	for _, o := range h.space.heaters {
		k := &o.Live.Known
		if o == h || !k.Carries(reading.CO) || h.Live.At.Sub(k.COAt) > trust.ZeroBeside {
			continue
		}
		if why, is = h.Live.Cell.BlindBeside(o.ID, k.CO); is {
			return why, true
		}
	}
	return "", false
}

// unlearned is how often CO may come of a sensor of which that is not known yet:
// some send it far less often than the flame. Common practice, no source.
const unlearned = 20 * time.Minute

// Figures that are held are looked at from this long after the last CO on, and
// only where it was enough to reach a limit by itself. Common practice, no
// source.
const heldAfter = 5 * time.Minute

// lookAtHeldAir compares with the site's limits what a space's air may have
// come to since its only sensor was last heard: the worse end, for silence
// makes no air safe. It raises; it never clears.
func (e *Engine) lookAtHeldAir(h *heater) {
	if h.space == nil || !e.holds(h) || h.space.others(h, e.measuresCO) {
		return
	}
	f, l := h.Live.Air.At(e.now), &h.site.Limits
	for _, m := range [3]measure{
		{alarm.COShortTerm, shortBit, f.TWA15PPM, l.ShortTermPPM, "ppm"},
		{alarm.COShift, shiftBit, f.TWA8hPPM, l.ShiftPPM, "ppm"},
		{alarm.CODose, doseBit, f.COHbPercent, l.DosePercent, "%"},
	} {
		if m.over() && !e.alarmed(h.airKey(m.kind)) {
			e.raiseHeld(h, m, &f)
		}
	}
}

// holds reports whether the last CO of the heater's unit stands for the air
// since, and matters. A unit that a person took off says nothing of the air
// there.
func (e *Engine) holds(h *heater) bool {
	return h.node != "" && h.Live.Air.LastPPM >= h.rules.ForecastFrom && e.muteOfCO(h)
}

func (e *Engine) raiseHeld(h *heater, m measure, f *exposure.Figures) {
	h.space.still &^= m.bit
	c := alarm.Condition{
		Key: h.airKey(m.kind), Active: true, Known: true, Since: e.now,
		Value: m.value, Limit: m.limit, HasValue: true, Unit: m.unit,
	}
	c.Findings.Heaters = h.space.ids()
	c.Findings.Sure = fmt.Sprintf("the last CO there, %.0f ppm %s ago, is held", f.PPM, lasted(e.now.Sub(h.Live.Air.Last)))
	c.Findings.Coverage = coverageOf(f, m.kind)
	e.observe(c)
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
