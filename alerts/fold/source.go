package fold

import (
	"heaterd/ingest/reading"
)

// airReading is one reading of CO that waits until every flame of its space
// is known at its time.
type airReading struct {
	At  reading.Instant
	PPM float32
}

// weighAir hands the readings of the space that need wait no longer to the
// air changes and to the search for the source.
func (s *space) weighAir(now reading.Instant) {
	if s == nil {
		return
	}
	for _, g := range s.heaters {
		g.weigh(now)
	}
}

// weigh takes the readings of one sensor up to where every flame of the space
// is settled, or can no longer become known.
func (h *heater) weigh(now reading.Instant) {
	n := 0
	for n < len(h.Air) && h.space.settledAt(h, h.Air[n].At, now) {
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

// settledAt reports whether every other heater of the space is known at an
// instant.
func (s *space) settledAt(except *heater, at, now reading.Instant) bool {
	for _, h := range s.heaters {
		if h == except || h.Settled.At >= at || h.Settled.At == 0 && len(h.Pending) == 0 {
			continue
		}
		if now.Sub(at) < h.rules.patience()+h.rules.Lateness {
			return false
		}
	}
	return true
}

// litMask tells which heaters of the space burned at an instant; bit i is the
// i-th, those beyond the last bit share it.
func (s *space) litMask(at reading.Instant) uint64 {
	var m uint64
	for i, h := range s.heaters {
		if h.wasLit(at) {
			m |= 1 << min(i, 63)
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
