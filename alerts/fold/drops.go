package fold

import "heaterd/alerts/burner"

// tail gives the burner hours of the short flames that followed at once on a
// burn that had held, this one included: a heater's own control tries again
// whatever put the flame out, and an empty tank gives it what line and pump
// hold. 0 where it held, or none of the row did.
func (e *ended) tail(h *heater, b *burner.Burn, hours float64) float64 {
	soon := e.Number > 0 && b.Start.Sub(e.Burn.End) < h.rules.Shutdown.FuelRelight
	if !soon || !h.brief(b) || h.brief(&e.Burn) && e.TailH == 0 {
		return 0
	}
	return e.TailH + hours - e.Hours
}

// lastDrop gives the last of such flames after an ending; nil where there were
// none, or more than last drops. It is open as long as the heater may yet burn
// on, or its tank be filled.
func (h *heater) lastDrop(e *ended) (last *ended, open bool) {
	most, w := h.rules.Shutdown.LastDrops.Hours(), &h.Settled
	for e.Relit != 0 && e.Relit.Sub(e.Burn.End) < h.rules.Shutdown.FuelRelight {
		next := h.endingOf(e.Number + 1)
		if next == nil {
			return nil, w.Burner.Burning && e.TailH+w.Burner.HoursAt(w.At).Run-e.Hours <= most
		}
		if next.TailH == 0 || next.TailH > most {
			return nil, false
		}
		last, e = next, next
	}
	return last, !h.followed(e)
}

// endingOf gives a settled ending by its number; nil where there is none yet,
// or none any more.
func (h *heater) endingOf(number int32) *ended {
	for _, list := range [][]*ended{h.Open, h.Told} {
		for _, e := range list {
			if e.Number == number {
				return e
			}
		}
	}
	return nil
}
