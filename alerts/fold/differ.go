package fold

import (
	"time"

	"heaterd/alerts/exposure"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// below compares a sensor with the others of its space by what they measured over
// 8 h. One that is told of for this stays so though the other fell silent meanwhile.
func (e *Engine) below(h *heater, before reading.Instant) (why string, is bool) {
	told := h.Below && e.suspects(h)
	if h.space == nil || len(h.space.heaters) < 2 || !told && !anotherStep(before, h.Live.Known.COAt) {
		return "", false
	}
	_, low, _ := h.Live.Air.Newest()
	for _, o := range h.space.heaters {
		if o == h || !o.tells(reading.CO) || e.suspects(o) {
			continue
		}
		if _, high, _ := o.Live.Air.Newest(); trust.Differs(low, high, told) && (told || comparable(&h.Live, &o.Live)) {
			return trust.Difference(low, h.Live.Air.ShiftCovered(), o.ID, high, o.Live.Air.ShiftCovered()), true
		}
	}
	return "", false
}

// comparable reports whether two sensors themselves measured most of the same 8 h:
// the air's average goes on where another unit is fitted.
func comparable(a, b *Witness) bool {
	return a.Cell.Newest.Sub(b.Cell.Newest).Abs() <= trust.DifferApart && a.measuredShift() && b.measuredShift()
}

func (w *Witness) measuredShift() bool {
	here := w.Cell.Newest.Sub(w.Cell.Here)
	return here >= exposure.ShiftSeconds*time.Second && w.Air.ShiftCovered() >= trust.DifferCovered
}

// anotherStep reports whether an average of 8 h took in another of its steps from
// one reading to the next: within one it is not worth asking.
func anotherStep(from, to reading.Instant) bool {
	const step = reading.Instant(exposure.ShiftStep / time.Microsecond)
	return from/step != to/step
}
