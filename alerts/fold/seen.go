package fold

import (
	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// seen tells how the heater stands, for whoever is sent to its space.
func (e *Engine) seen(h *heater) alarm.Seen {
	s := alarm.Seen{Heater: h.ID, Space: h.Space}
	burn, lit := h.Live.Burner.Current()
	switch {
	case e.book.Out(h.ID):
		s.How = alarm.TakenOut
	case !h.tells(reading.Flame):
		s.How = alarm.Unseen
	case h.silentAt(e.now):
		s.How, s.Since = alarm.Silent, h.Heard
	case lit:
		s.How, s.Since = alarm.Lit, burn.Start
	default:
		s.How = alarm.Unlit
		if h.stopAt(e.now) {
			s.How = alarm.Planned
		}
		if h.Live.Last.Number != 0 {
			s.Since = h.Live.Last.Burn.End
		}
	}
	return s
}

func (e *Engine) seenIn(sp *space) []alarm.Seen {
	out := make([]alarm.Seen, len(sp.heaters))
	for i, h := range sp.heaters {
		out[i] = e.seen(h)
	}
	return out
}
