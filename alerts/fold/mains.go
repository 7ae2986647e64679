package fold

import (
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// loss of the mains, as a unit told of it: between these two readings.
type loss struct{ From, To reading.Instant }

// losses are those of one unit in order, by what is settled, while an ending
// on the site may still ask for them.
type losses []loss

// mostLosses bounds them: a plug that does not hold loses the mains all day.
const mostLosses = 200

func (l *losses) add(x loss) {
	*l = append(*l, x)
	if n := len(*l) - mostLosses; n > 0 {
		*l = slices.Delete(*l, 0, n)
	}
}

func (l *losses) forget(before reading.Instant) {
	*l = slices.DeleteFunc(*l, func(x loss) bool { return x.To < before })
}

// lostMains gives the first loss of the mains that the heater's unit told of in
// a stretch of time, by the settled copy up to where that has come and by the
// live one beyond, whose readings are taken to be so far apart.
func (h *heater) lostMains(from, to reading.Instant, apart time.Duration) loss {
	for _, x := range h.Losses {
		if x.To >= from && x.From <= to {
			return x
		}
	}
	if at := h.Live.Burner.Fell.Supply; at > h.Settled.At && at >= from && at.Add(-apart) <= to {
		return loss{at.Add(-apart), at}
	}
	return loss{}
}

// mainsWith names the other heaters of the site whose units lost the mains as a
// burn of h ended. The unit of a heater that was out tells so as well.
func (s *site) mainsWith(h *heater, e *ended) []string {
	var names []string
	b, near := &e.Burn, h.rules.Shutdown.Together
	for _, o := range s.heaters {
		if o != h && o.lostMains(b.EndLow.Add(-near), b.EndHigh.Add(near), b.Gap).To != 0 {
			names = append(names, o.ID)
		}
	}
	slices.Sort(names)
	return names
}

// mainsAfter gives the time from an ending until the mains went at another
// heater of the site, before this one lit again and with none burning on: they
// may have gone here too. 0 where they did not.
func (s *site) mainsAfter(h *heater, e *ended) time.Duration {
	first, more := reading.Instant(0), third{site: s, not: h}
	for _, o := range s.heaters {
		if o == h {
			continue
		}
		at := o.lostMains(e.Burn.End+1, e.looked(h.rules), e.Burn.Gap).To
		if at != 0 && (first == 0 || at < first) && !more.burned(at.Add(h.rules.Together)) {
			first = at
		}
	}
	if first == 0 {
		return 0
	}
	return first.Sub(e.Burn.End)
}
