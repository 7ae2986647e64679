package fold

import (
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// lookAtCell raises doubt of the CO sensor. One that was found blind beside
// another stays so until it reads something else: that the air got better
// clears nothing.
func (e *Engine) lookAtCell(h *heater, before reading.Instant) {
	fresh := h.Live.Known.COAt > before
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
	if !suspect && fresh {
		if why, suspect = e.below(h, before); suspect {
			since = h.Live.Known.COAt
		}
		h.Below = suspect
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
