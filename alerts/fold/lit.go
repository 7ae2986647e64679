package fold

import "heaterd/ingest/reading"

// lit is a stretch of time in which a heater is known to have burned.
type lit struct{ From, To reading.Instant }

func (l lit) covers(at reading.Instant) bool { return l.From <= at && at <= l.To }

// litAt counts the heaters of the site that were lit at an instant, itself
// included, until there are more than enough: more of them than went out
// together say no more.
func (s *site) litAt(itself *heater, at reading.Instant, enough int) int {
	n := 1
	for _, h := range s.heaters {
		if n > enough {
			break
		}
		if h != itself && h.wasLit(at) {
			n++
		}
	}
	return n
}

// wasLit reports whether the heater burned at an instant.
func (h *heater) wasLit(at reading.Instant) bool { return h.litOver(at) != lit{} }

// litOver gives a stretch over an instant in which the heater burned, by the settled
// copy up to where that has come and by the live one beyond; none where it did not.
func (h *heater) litOver(at reading.Instant) lit {
	w, within := &h.Settled, lit{0, h.Settled.At}
	if w.At < at {
		w, within = &h.Live, lit{w.At + 1, reading.Instant(1<<63 - 1)}
		if l := &w.Last; l.Number > h.Settled.Last.Number && l.Burn.Start <= at && l.Burn.End >= at {
			return lit{max(l.Burn.Start, within.From), l.Burn.End}
		}
	}
	if w.Burner.Burning && w.Burner.Burn.Start <= at {
		return lit{max(w.Burner.Burn.Start, within.From), within.To}
	}
	if l := litIn(h.Open, at); l != (lit{}) {
		return l
	}
	return litIn(h.Told, at)
}

// litIn gives that of the burns, which come in their order, that covers an instant.
func litIn(burns []*ended, at reading.Instant) lit {
	for i := len(burns) - 1; i >= 0 && burns[i].Burn.End >= at; i-- {
		if burns[i].Burn.Start <= at {
			return lit{burns[i].Burn.Start, burns[i].Burn.End}
		}
	}
	return lit{}
}

// third looks for heaters of a site that burned, other than one. It remembers how
// long the one that it found did: one answer often serves for many instants.
type third struct {
	site *site
	not  *heater
	lit  lit
	vain bool // one look found none
}

// burned reports whether one burned at an instant.
func (t *third) burned(at reading.Instant) bool {
	for i := 0; !t.lit.covers(at) && i < len(t.site.heaters); i++ {
		if h := t.site.heaters[i]; h != t.not {
			t.lit = h.litOver(at)
		}
	}
	return t.lit.covers(at)
}

// seen reports whether one is known to have burned, with one look in vain at most:
// each takes all heaters of the site.
func (t *third) seen(at reading.Instant) bool {
	if t.vain {
		return t.lit.covers(at)
	}
	t.vain = !t.burned(at)
	return !t.vain
}
