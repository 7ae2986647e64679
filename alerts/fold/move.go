package fold

import (
	"time"

	"heaterd/ingest/reading"
)

// move puts what came from an instant on where the clock of the unit, as it is
// known now, says; what another unit measured stays. It reports whether the live
// copy must be made anew.
func (h *heater) move(from reading.Instant, by time.Duration) (stale bool) {
	fitted, left := h.Before.left(from), h.Pending
	var moved []pending
	h.Pending, h.soft = h.Pending[:0], nil
	for _, x := range left {
		if x.Came < from || x.At < fitted {
			h.Pending = append(h.Pending, x)
			continue
		}
		x.At = x.At.Add(by)
		moved = append(moved, x)
	}
	for _, x := range moved {
		if x.At > h.Settled.At {
			h.place(x.Sample, x.Came)
		}
	}
	if len(moved) > 0 {
		h.Spoilt = moved[0].At
	}
	return len(moved) > 0
}

// mayMove holds a sample back while it is asked whether the clock of its unit
// was right.
func (h *heater) mayMove(x *pending, now reading.Instant) bool {
	since, asked := h.Clock.Asked()
	return asked && x.Came >= since && now.Sub(h.Packs.Last) <= doubtLasts
}
