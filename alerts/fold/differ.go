package fold

import (
	"time"

	"heaterd/alerts/exposure"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// below compares a sensor with the others of its space by what they measured over
// 8 h. One that is told of already stays so though the other fell silent meanwhile.
func (e *Engine) below(h *heater, before reading.Instant) (why string, is bool) {
	told := e.suspects(h)
	if h.space == nil || len(h.space.heaters) < 2 || !told && !anotherStep(before, h.Live.Known.COAt) {
		return "", false
	}
	_, low, _ := h.Live.Air.Newest()
	for _, o := range h.space.heaters {
		if o == h || !o.tells(reading.CO) {
			continue
		}
		if _, high, _ := o.Live.Air.Newest(); trust.Differs(low, high, told) && !e.suspects(o) && (told || comparable(&h.Live.Air, &o.Live.Air)) {
			return trust.Difference(low, o.ID, high), true
		}
	}
	return "", false
}

// comparable reports whether two sensors measured most of the same 8 h.
func comparable(a, b *exposure.Sensor) bool {
	return !a.Empty() && !b.Empty() && a.Last.Sub(b.Last).Abs() <= trust.DifferApart &&
		a.ShiftCovered() >= trust.DifferCovered && b.ShiftCovered() >= trust.DifferCovered
}

// anotherStep reports whether an average of 8 h took in another of its steps from
// one reading to the next: within one it is not worth asking.
func anotherStep(from, to reading.Instant) bool {
	const step = reading.Instant(exposure.ShiftStep / time.Microsecond)
	return from/step != to/step
}
