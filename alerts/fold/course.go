package fold

import (
	"fmt"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/alerts/warmth"
	"heaterd/ingest/reading"
)

// What may be taken for granted of a heater that is out. Common practice, no source.
const (
	lightsAgainFrom = 3                // relights at one temperature from which it is known where it lights
	lightsAgainC    = 1.0              // °C below it at which it should have lit by now
	thermostatOffC  = 2.0              // the same of a thermostat that only the configuration tells of: it hangs elsewhere
	lightsSoon      = 15 * time.Minute // after a planned stop
	lightsWithin    = 24 * time.Hour   // one of which neither is known may light by itself for so long after it burned, or the record began
)

// lookAtCourse notes how warm a space is, and raises space-cooling while it goes
// towards its protect limit though no heat is to come that could turn it. It ends
// when the course is seen to have turned, or such heat is to come again.
func (e *Engine) lookAtCourse(s *space) {
	if s.course == nil {
		return
	}
	coldest, regime := e.coldest(s)
	if coldest == nil {
		return
	}
	tempC, limit := float64(coldest.Live.Known.Temp), *s.ProtectAboveC
	s.course.Note(e.now, tempC, regime)
	key := alarm.Key{Kind: alarm.SpaceCooling, Site: s.site.ID, Space: s.ID}
	fall, o, falls := e.falls(s, coldest)
	if s.still.calm(coolingBit, falls, func() bool { return e.book.Quiet(key) }) {
		return
	}
	quiet := e.book.Quiet(key)
	toCome := e.heatToCome(s, limit, o)
	switch {
	case quiet && (!falls || toCome || tempC <= limit):
	case tempC > limit && (!falls || toCome):
		turned := toCome || s.course.Turned(limit, 2*e.rules.ColdWithin.Hours())
		e.observe(alarm.Condition{Key: key, Known: turned || !e.alarmed(key), Value: tempC, Limit: limit, HasValue: true, Unit: "Cel"})
	default:
		e.observe(e.cooling(s, key, tempC, fall, o))
	}
}

// falls gives the fall of a space that leads to its limit soon enough to be told.
func (e *Engine) falls(s *space, coldest *heater) (fall warmth.Fall, o warmth.Outlook, is bool) {
	if fall, is = s.course.Falls(*s.ProtectAboveC); !is {
		return fall, o, false
	}
	env, known := coldest.Live.Warm.Envelope()
	o = fall.To(*s.ProtectAboveC, env, known)
	return fall, o, !o.LikelyNever && o.Likely <= e.rules.ColdWithin.Hours()
}

func (e *Engine) cooling(s *space, key alarm.Key, tempC float64, fall warmth.Fall, o warmth.Outlook) alarm.Condition {
	c := alarm.Condition{Key: key, Active: true, Known: true, Value: tempC, Limit: *s.ProtectAboveC, HasValue: true, Unit: "Cel"}
	c.Findings.HasHarm, c.Findings.HarmEarly = true, hours(o.Early)
	if !o.LateNever {
		c.Findings.HarmLate = hours(o.Late)
	}
	if c.Priority = alarm.PriorityOf(key.Kind, c.Findings.HarmEarly, ""); c.Priority == alarm.Critical {
		c.Priority = alarm.High // as when it is too cold: the way there is no worse
	}
	c.Findings.Seen = e.seenIn(s)
	if fall.Over > 0 {
		c.Findings.Evidence = []string{fmt.Sprintf("it fell from %.1f to %.1f °C in %s with %s", fall.FromC, fall.ToC, lasted(fall.Over), litOf(c.Findings.Seen))}
	}
	if c.Under = e.causeOfCold(s, key); c.Under == nil {
		cold := key
		cold.Kind = alarm.SpaceCold
		c.Under = &cold
	}
	return c
}

func litOf(seen []alarm.Seen) string {
	lit := 0
	for _, s := range seen {
		if s.How == alarm.Lit {
			lit++
		}
	}
	if lit == 0 {
		return "no heater seen lit"
	}
	return fmt.Sprintf("%d of %d heaters seen lit", lit, len(seen))
}

// coldest gives the heater whose unit reads the lowest temperature of a space
// now, and a number for which units tell and which heaters are lit. Nil where
// none tells.
func (e *Engine) coldest(s *space) (coldest *heater, regime uint64) {
	regime = hashBasis
	for _, h := range s.heaters {
		if !h.tells(reading.Temp) || h.silentAt(e.now) || e.now.Sub(h.Live.Known.TempAt) > h.silentAfter() {
			continue
		}
		regime = hash(hash(regime, h.ID), string(h.node))
		if h.Live.Burner.Burning {
			regime++
		}
		if coldest == nil || h.Live.Known.Temp < coldest.Live.Known.Temp {
			coldest = h
		}
	}
	return coldest, regime
}

// hash is FNV-1a, here without an allocation for every heater and minute.
func hash(sum uint64, s string) uint64 {
	for i := range len(s) {
		sum = (sum ^ uint64(s[i])) * 1099511628211
	}
	return sum
}

const hashBasis = 14695981039346656037

// heatToCome reports whether one of the space's heaters that is out may be
// trusted to light before the space is at its limit.
func (e *Engine) heatToCome(s *space, limit float64, o warmth.Outlook) bool {
	for _, h := range s.heaters {
		if e.willLight(h, limit, o) {
			return true
		}
	}
	return false
}

func (e *Engine) willLight(h *heater, limit float64, o warmth.Outlook) bool {
	if h.node == "" || h.silentAt(e.now) || h.Live.Burner.Burning || e.book.Out(h.ID) || h.failed() {
		return false
	}
	if until := h.offUntil(e.now.Add(-lightsSoon)); until != 0 {
		return until.Sub(e.now) < hours(o.Likely)
	}
	if at, slack, known := h.lightsAt(); known {
		return at > limit && float64(h.Live.Known.Temp) > at-slack
	}
	return e.now.Sub(max(h.Live.Last.Burn.End, h.Begin)) < lightsWithin
}

// failed reports whether the heater is out since an ending that a thermostat does
// not follow.
func (h *heater) failed() bool {
	return h.standsFor(outcome.Unexplained) || h.standsFor(outcome.SiteWide) || h.standsFor(outcome.SupplyLost) || h.standsFor(outcome.FuelOut)
}

// lightsAt gives the temperature at which the heater lights by itself, °C at its
// unit, and how far below it that should have happened: as it does, else as its
// thermostat is set, at the lower of the ways in which makers mean a differential.
func (h *heater) lightsAt() (c, slack float64, known bool) {
	if u := h.Live.CutIn.Usual(); u.N >= lightsAgainFrom {
		return u.C, lightsAgainC, true
	}
	if t := h.Thermostat; t != nil {
		return t.SetpointC - t.DifferentialC, thermostatOffC, true
	}
	return 0, 0, false
}

// offUntil gives when the planned stop, or the hours off, in which the heater
// stands now end; 0: it stands in none.
func (h *heater) offUntil(at reading.Instant) reading.Instant {
	until := shutdown.OffUntil(h.site.PlannedOff, h.site.Zone, at)
	if s := h.stopNow(at); s != nil {
		until = max(until, s.To)
	}
	return until
}

// keptCourse is the course of a space in a snapshot.
type keptCourse struct {
	Site, Space string
	Course      []byte
}

func (e *Engine) keepCourses() []keptCourse {
	var out []keptCourse
	for _, s := range e.sites {
		for _, sp := range s.spaces {
			if sp.course != nil && sp.course.From != 0 {
				out = append(out, keptCourse{s.ID, sp.ID, plain(sp.course)})
			}
		}
	}
	return out
}

// takeCourses goes on with the courses of the spaces that are still there. Those
// whose heaters are others now begin anew by themselves.
func (e *Engine) takeCourses(all []keptCourse) error {
	kept := map[[2]string][]byte{}
	for _, k := range all {
		kept[[2]string{k.Site, k.Space}] = k.Course
	}
	for _, s := range e.sites {
		for _, sp := range s.spaces {
			if b := kept[[2]string{s.ID, sp.ID}]; sp.course != nil && b != nil {
				if err := takeUp(b, sp.course); err != nil {
					return fmt.Errorf("course of space %q: %w", sp.ID, err)
				}
			}
		}
	}
	return nil
}
