package exposure

import (
	"cmp"

	"heaterd/ingest/reading"
)

// HorizonMinutes is how far a forecast looks, min: one shift. What is not
// reached by then is not forecast.
const HorizonMinutes = 480

// RisingMinutes is the warning time of co-rising where a site gives none,
// min: about what it takes to clear a space. Common practice, no source.
const RisingMinutes = 15

// FallbackRisingPPM is the concentration that co-rising looks towards where
// a set of limits has neither a ceiling nor a short-term figure, ppm: the
// NIOSH ceiling (NIOSH Pocket Guide; read in the document).
const FallbackRisingPPM = 200

// Until is the time to a limit at the present course.
type Until struct {
	Minutes float64 // from the instant asked about, 0 where the limit is reached
	OK      bool    // false: no such limit, or not within HorizonMinutes
}

// Forecast says when each limit is reached if the course of the last minutes
// goes on, its slope flattening with a 30 min time constant. It is a warning
// to act on early, not a promise of time.
type Forecast struct {
	Ceiling   Until
	ShortTerm Until
	Shift     Until
	Dose      Until
}

// Soonest takes over what another record of the same air says comes sooner.
func (f *Forecast) Soonest(o Forecast) {
	f.Ceiling.soonest(o.Ceiling)
	f.ShortTerm.soonest(o.ShortTerm)
	f.Shift.soonest(o.Shift)
	f.Dose.soonest(o.Dose)
}

func (u *Until) soonest(o Until) {
	if o.OK && (!u.OK || o.Minutes < u.Minutes) {
		*u = o
	}
}

// Forecast gives the times to the limits from now. It walks a copy of the
// record forward minute by minute: tens of microseconds, not for every
// reading.
func (s *Sensor) Forecast(now reading.Instant, l Limits) Forecast {
	var f Forecast
	if s.Empty() {
		return f
	}
	now = min(max(now, s.Last), s.Last.AddSeconds(GapHeldSeconds))
	c, _ := s.extended(now)
	course := s.course()
	offset := minutes(now, s.Last)
	for m := 0.0; m <= HorizonMinutes; m++ {
		ppm := course.ahead(offset + m)
		if f.meet(m, ppm, c.now(now), l) {
			break
		}
		next := now.AddSeconds(secondsPerMinute)
		c.run(now, next, ppm, course.ahead(offset+m+1), false)
		now = next
	}
	return f
}

// course is the fitted line where its slope stands out, as steep as the last
// steps where it rises; else that of a jump; else the present level held.
func (s *Sensor) course() line {
	l := s.Trend.steeper(s.Trend.fit())
	if j := s.Trend.jump(); !l.sure && j.sure {
		return j
	}
	if !l.sure {
		l.slope = 0
	}
	return l
}

// meet notes the limits met at minute m and reports whether all that exist
// are met.
func (f *Forecast) meet(m, ppm float64, h highest, l Limits) bool {
	all := true
	for _, c := range [...]struct {
		until        *Until
		value, limit float64
	}{
		{&f.Ceiling, ppm, l.CeilingPPM},
		{&f.ShortTerm, h.Short, l.ShortTermPPM},
		{&f.Shift, h.Shift, l.ShiftPPM},
		{&f.Dose, 100 * h.Bound, l.DosePercent},
	} {
		if c.limit > 0 && !c.until.OK && c.value >= c.limit {
			*c.until = Until{Minutes: m, OK: true}
		}
		all = all && (c.until.OK || c.limit <= 0)
	}
	return all
}

// Rise is a concentration on its way to a limit.
type Rise struct {
	PPM       float64 // level now, from the fitted line or the newest reading where the last steps are steeper, and no higher than was read
	PerMinute float64 // slope, ppm per minute, by the last steps where those are steeper
	Limit     float64 // ppm it is heading for
	Minutes   float64 // until then
}

// Rising is the condition of co-rising: the readings climb by more than
// their noise and more than 3 ppm, or jump, and at that course the concentration
// itself reaches the ceiling, else the short-term figure, else
// FallbackRisingPPM, within the given minutes (RisingMinutes where 0). It
// goes by the concentration, not the average, so that it comes first.
func (s *Sensor) Rising(l Limits, within float64) (Rise, bool) {
	if within <= 0 {
		within = RisingMinutes
	}
	c := s.Trend.fit()
	r, rising := s.rise(c, s.Trend.steeper(c), l, within)
	if rising {
		return r, true
	}
	j := s.Trend.jump()
	if leaps, is := s.rise(j, j, l, within); is {
		return leaps, true
	}
	return r, false
}

// rise holds a course against the limit, and tells what now looks like.
func (s *Sensor) rise(course, now line, l Limits, within float64) (Rise, bool) {
	r := Rise{PPM: min(now.level, s.PeakPPM), PerMinute: now.slope, Limit: l.RisingPPM()}
	if !course.sure || course.slope <= 0 {
		return r, false
	}
	m, ok := course.until(r.Limit)
	r.Minutes, _ = now.until(r.Limit)
	return r, ok && m <= within
}

// Rising is the limit that a concentration on its way up is told of; 0 where the
// set has none for a single reading or a quarter of an hour. Then it is told on
// its way to FallbackRisingPPM, which is no limit there.
func (l Limits) Rising() float64 { return cmp.Or(max(l.CeilingPPM, 0), max(l.ShortTermPPM, 0)) }

// RisingPPM is the concentration that CO rising is told on its way to.
func (l Limits) RisingPPM() float64 { return cmp.Or(l.Rising(), FallbackRisingPPM) }
