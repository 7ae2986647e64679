package fold

import (
	"heaterd/alerts/exposure"
	"heaterd/ingest/reading"
)

// airReading is one reading of CO that waits until every flame of its space
// is known at its time.
type airReading struct {
	At  reading.Instant
	PPM float32
}

// weighAir hands the readings of the site's spaces that need wait no longer to
// the air changes and to the search for the source.
func (s *site) weighAir(r *Rules, now reading.Instant) {
	for _, sp := range s.spaces {
		if sp.settled {
			sp.weigh(now.Add(-r.patience() - r.Lateness))
		}
	}
}

// weigh takes the readings of the space up to where every flame of it is
// settled, and older ones all the same: those can no longer become known.
func (s *space) weigh(old reading.Instant) {
	known := max(s.known(), old)
	for _, h := range s.heaters {
		h.weigh(known)
	}
	s.settled = false
}

// weigh takes the readings of one sensor up to an instant.
func (h *heater) weigh(known reading.Instant) {
	n := 0
	for n < len(h.Air) && h.Air[n].At <= known {
		h.weighOne(h.Air[n])
		n++
	}
	if n > 0 {
		h.Air = h.Air[:copy(h.Air, h.Air[n:])]
	}
}

func (h *heater) weighOne(r airReading) {
	lit := h.space.litMask(r.At)
	h.Decay.Apply(r.At, float64(r.PPM), lit != 0)
	if len(h.space.heaters) > 1 {
		if h.Source == nil {
			h.Source = new(source)
		}
		h.Source.Apply(r.At, float64(r.PPM), uint8(lit))
	}
}

// known is the instant up to which every heater of the space is settled.
func (s *space) known() reading.Instant {
	known := end
	for _, h := range s.heaters {
		if h.Settled.At != 0 || len(h.Pending) > 0 {
			known = min(known, h.Settled.At)
		}
	}
	return known
}

// litMask tells which heaters of the space burned at an instant; bit i is the
// i-th. Those beyond the ones that can be told apart share a bit, and are asked
// only where none of the others burned.
func (s *space) litMask(at reading.Instant) (m uint64) {
	for i, h := range s.heaters {
		if i > exposure.MostHeaters && m != 0 {
			break
		}
		if h.wasLit(at) {
			m |= 1 << min(i, exposure.MostHeaters)
		}
	}
	return m
}

// source names the heater that the CO of the space goes with, by the first
// sensor that can tell; empty where none stands out.
func (s *space) source() string {
	for _, h := range s.heaters {
		if id := h.sourceOf(); id != "" {
			return id
		}
	}
	return ""
}

// sourceOf names the heater that the CO of the space goes with, as the sensor
// beside h tells it; empty where none stands out.
func (h *heater) sourceOf() string {
	if h.Source == nil || h.space == nil {
		return ""
	}
	b, ok := h.Source.Best()
	if !ok || b.Heater >= len(h.space.heaters) {
		return ""
	}
	return h.space.heaters[b.Heater].ID
}
