package jobsite

import (
	"math"
	"math/rand/v2"
	"time"
)

const (
	weatherStepS  = 60   // s between changes of the outside temperature
	wanderTauH    = 36.0 // h over which the slow random part forgets; passing weather, common practice, no source
	coldestHour   = 5.0  // local hour of the daily minimum, common practice, no source
	hoursInADay   = 24.0
	secondsInHour = 3600
)

// site is a jobsite with its outside air and its weekly off hours.
type site struct {
	spec     SiteSpec
	zone     *time.Location
	rng      *rand.Rand
	outsideC float64
	wander   float64 // °C, slow random part

	off     bool  // inside planned off hours
	changed int64 // tick at which off last changed
}

// minute renews the weather and the off hours; now is the true time.
func (s *site) minute(now time.Time, tick int64) {
	local := now.In(s.zone)
	day := wallClock(local)
	keep := math.Exp(-weatherStepS / (wanderTauH * secondsInHour))
	s.wander = s.wander*keep + s.spec.WanderC*math.Sqrt(1-keep*keep)*s.rng.NormFloat64()
	phase := 2 * math.Pi * (day.Hours() - coldestHour) / hoursInADay
	s.outsideC = s.spec.MeanC - s.spec.SwingC*math.Cos(phase) + s.wander
	if off := s.plannedOff(local.Weekday(), day); off != s.off {
		s.off, s.changed = off, tick
	}
}

func wallClock(t time.Time) time.Duration {
	h, m, s := t.Clock()
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
}

func (s *site) plannedOff(day time.Weekday, at time.Duration) bool {
	for _, o := range s.spec.PlannedOff {
		if o.covers(day, at) {
			return true
		}
	}
	return false
}

func (o OffHours) covers(day time.Weekday, at time.Duration) bool {
	before := (day + 6) % 7
	for _, d := range o.Days {
		switch {
		case o.To > o.From:
			if d == day && at >= o.From && at < o.To {
				return true
			}
		case d == day && at >= o.From, d == before && at < o.To:
			return true
		}
	}
	return false
}
