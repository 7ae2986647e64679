package fold

import (
	"heaterd/alerts/alarm"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// lookAtCell raises doubt of the CO sensor. One that was found blind beside
// another stays so until it reads something else: that the air got better
// clears nothing.
func (e *Engine) lookAtCell(h *heater) {
	why, suspect := h.Live.Cell.Suspect()
	if !suspect && h.Live.Cell.Zero() {
		if why, suspect = h.blind(); !suspect && h.still&suspectBit == 0 && e.alarmed(h.nodeKey(alarm.COSensorSuspect)) {
			return
		}
	}
	e.holdNode(h, suspectBit, alarm.COSensorSuspect, suspect, func(c *alarm.Condition) {
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
