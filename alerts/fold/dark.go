package fold

import (
	"slices"
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
)

// hole is a stretch in which a unit was not heard, between two of its readings
// that lie further apart than it is used to.
type hole struct {
	From, To reading.Instant
	Every    time.Duration // between its readings, as expected
}

// holes are those of one unit in order, by what is settled, while an ending on
// the site may still ask for them.
type holes []hole

// holeFrom is how much longer, × its usual time, a unit is not heard where at
// least one reading is missing. Common practice, no source.
const holeFrom = 1.75

func (l *holes) add(x hole) {
	*l = append(*l, x)
	if n := len(*l) - mostLosses; n > 0 {
		*l = slices.Delete(*l, 0, n)
	}
}

func (l *holes) forget(before reading.Instant) {
	*l = slices.DeleteFunc(*l, func(x hole) bool { return x.To < before })
}

// noteHole takes down that the unit was not heard before a reading.
func (h *heater) noteHole(from, to reading.Instant) {
	every := h.Settled.Every.Expected(h.promised(to))
	if from != 0 && to.Seconds(from) > holeFrom*every.Seconds() {
		h.Holes.add(hole{from, to, every})
	}
}

// over gives the hole that a burn ended in.
func (l holes) over(b *burner.Burn) (hole, bool) {
	i := slices.IndexFunc(l, func(x hole) bool { return x.From <= b.EndHigh && x.To >= b.EndLow })
	if i < 0 {
		return hole{}, false
	}
	return l[i], true
}

// counted reports whether a counter tells how long the heater burned on in the
// hole.
func (x hole) counted(b *burner.Burn) bool { return b.EndHigh.Sub(b.EndLow) < x.To.Sub(x.From) }

// ranOn reports whether the heater burned on in the hole for longer than until
// its unit should have been heard again.
func (x hole) ranOn(b *burner.Burn) bool {
	return x.counted(b) && b.End.Sub(x.From) > x.Every+b.EndHigh.Sub(b.End)
}

// darkWith names the other units of the site that fell silent with that of h as
// a burn of it ended, where the mains that feed them all must have gone.
func (s *site) darkWith(h *heater, e *ended) []string {
	own, ok := h.Holes.over(&e.Burn)
	if !ok || own.ranOn(&e.Burn) {
		return nil
	}
	return s.darkIn(h, own, own.counted(&e.Burn))
}

// darkAfter gives the time from an ending until the unit and others fell silent
// for want of mains, before the heater lit again; 0 where they did not.
func (s *site) darkAfter(h *heater, e *ended) time.Duration {
	for _, x := range h.Holes {
		if x.From > e.Burn.End && x.From <= e.looked(h.rules) && s.darkIn(h, x, false) != nil {
			return x.From.Sub(e.Burn.End)
		}
	}
	return 0
}

// darkIn names the other units that fell silent as that of h did: nobody was
// heard meanwhile who had the mains, no burner ran on, and a counter says so,
// this heater's (stood) or another's. Nil where that is not known.
func (s *site) darkIn(h *heater, own hole, stood bool) (names []string) {
	begun := own.From.Add(own.Every + h.rules.Together)
	for _, o := range s.heaters {
		x, overlaps := o.holeWith(own)
		switch {
		case o == h, x.From == 0 && (overlaps || o.Settled.At <= begun): // silent since before, since later, or for good
		case x.From == 0:
			if o.lostMains(own.From, begun, own.Every).To == 0 {
				return nil
			}
			names = append(names, o.ID)
		default:
			b, lit := o.litInto(x)
			if lit && (b == nil || x.ranOn(b)) {
				return nil
			}
			stood = stood || lit && x.counted(b)
			names = append(names, o.ID)
		}
	}
	if !stood {
		return nil
	}
	slices.Sort(names)
	return names
}

// holeWith gives the hole of a unit that began with another's, and whether any
// overlaps that one.
func (h *heater) holeWith(own hole) (with hole, overlaps bool) {
	for _, x := range h.Holes {
		if x.To <= own.From || x.From >= own.To {
			continue
		}
		overlaps = true
		if x.From.Sub(own.From).Abs() <= max(x.Every, own.Every)+h.rules.Together {
			return x, true
		}
	}
	return hole{}, overlaps
}

// litInto gives the burn with which a heater went into a hole of its unit; nil
// with lit where that goes on.
func (h *heater) litInto(x hole) (b *burner.Burn, lit bool) {
	for _, l := range [][]*ended{h.Open, h.Told} {
		for _, e := range l {
			if e.Burn.Start <= x.From && e.Burn.EndHigh > x.From {
				return &e.Burn, true
			}
		}
	}
	return nil, h.wasLit(x.From)
}
