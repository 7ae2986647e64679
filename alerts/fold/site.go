package fold

import (
	"slices"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
	"heaterd/alerts/service"
	"heaterd/alerts/warmth"
	"heaterd/ingest/reading"
)

// site is a jobsite with its spaces and heaters, and the recent endings that
// tell an extinction of the whole site from a fault of one heater.
type site struct {
	fleet.Site
	still   still
	silence alarm.Key // of the alarm that the whole site is silent
	heaters []*heater
	spaces  []*space
	closed  []ended  // burns closed by the sample in hand
	recent  []ending // endings of all heaters, kept while one of them may matter to another
}

// ending is a burn that ended somewhere on the site.
type ending struct {
	heater *heater
	what   *ended
}

// space is a room or tent with what its sensors say together.
type space struct {
	fleet.Space
	still   still
	site    *site
	heaters []*heater
	settled bool           // more than was weighed
	course  *warmth.Course // nil: nothing there is to be protected from the cold
}

func newSpace(spec fleet.Space, on *site) *space {
	s := &space{Space: spec, site: on}
	if s.ProtectAboveC != nil {
		s.course = &warmth.Course{}
	}
	return s
}

// forgetStill makes the site look into the book again.
func (s *site) forgetStill() {
	s.still = 0
	for _, sp := range s.spaces {
		sp.still = 0
	}
	for _, h := range s.heaters {
		h.still = 0
	}
}

func (s *site) ended(h *heater, e *ended) { s.recent = append(s.recent, ending{h, e}) }

// forget drops endings that no open burn can have been part of.
func (s *site) forget(r *Rules, now reading.Instant) {
	oldest := max(s.oldestOpen(), now.Add(-r.patience()-3*r.Lateness))
	kept := s.recent[:0]
	for _, e := range s.recent {
		if oldest.Sub(e.what.Burn.End) < r.Together {
			kept = append(kept, e)
		}
	}
	clear(s.recent[len(kept):])
	s.recent = kept
	for _, h := range s.heaters {
		h.Told = slices.DeleteFunc(h.Told, func(e *ended) bool { return oldest.Sub(e.Burn.End) >= r.Together })
		h.Losses.forget(oldest.Add(-r.AftermathFor))
		h.Holes.forget(oldest.Add(-r.AftermathFor))
	}
}

// oldestOpen is the earliest instant at which a burn may still be found to
// have ended, or has and is not final.
func (s *site) oldestOpen() reading.Instant {
	oldest := reading.Instant(1<<63 - 1)
	for _, h := range s.heaters {
		if h.Settled.At != 0 {
			oldest = min(oldest, h.Settled.At)
		}
		if len(h.Open) > 0 {
			oldest = min(oldest, h.Open[0].Burn.End)
		}
	}
	return oldest
}

// passed reports whether every other heater of the site is known up to at.
func (s *site) passed(except *heater, at reading.Instant) bool {
	for _, h := range s.heaters {
		if h != except && h.Settled.At != 0 && h.Settled.At < at {
			return false
		}
	}
	return true
}

// airChanges gives the ventilation of the space as its most certain sensor
// tells it; nil where no decay was good enough.
func (s *space) airChanges() *exposure.AirChange {
	var best *exposure.AirChange
	for _, h := range s.heaters {
		a, ok := h.Decay.AirChange()
		if ok && (best == nil || a.High-a.Low < best.High-best.Low) {
			best = &a
		}
	}
	return best
}

// limits gives what the space is kept between.
func (s *space) limits() warmth.Limits {
	if s == nil {
		return warmth.Limits{}
	}
	return warmth.Limits{AboveC: s.ProtectAboveC, BelowC: s.ProtectBelowC}
}

// otherLit reports whether another flame of the space is lit, as far as is
// known.
func (s *space) otherLit(except *heater) bool {
	if s == nil {
		return false
	}
	for _, h := range s.heaters {
		if h != except && h.Live.Burner.Burning {
			return true
		}
	}
	return false
}

// dayAt gives the civil day of at in the site's zone.
func (s *site) dayAt(at reading.Instant, hours float64) day {
	d := service.DateOf(at, s.Zone)
	return day{Number: int32(d), Ends: (d + 1).Start(s.Zone), Hours: hours}
}
