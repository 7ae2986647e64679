package fold

import (
	"math"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// trailHours is how many hours back the burner's run is remembered: as long
// as an entry may say that it was done before it was written down.
const trailHours = int32(record.WrittenWithin / time.Hour)

// What an hour of the trail is told in: steps of half a minute, and a bit for
// hours in which nobody saw when the burner ran.
const (
	trailSteps = 120
	tornHour   = uint8(0x80)
)

// tornFrom is how long nothing must have been settled before it counts as
// unknown when within that time the burner ran. Common practice, no source.
const tornFrom = 5 * time.Minute

// trail remembers how long the burner ran in each of the last hours, by the
// settled copy, so that an entry written down late finds the hours of its own
// time.
type trail struct {
	Hour int32             // newest full hour passed, in hours since 1970; 0 none
	Kept int32             // hours before it that are remembered
	Run  float64           // burner hours run at that hour
	Torn bool              // a silence reaches into the hour in progress
	Ran  [trailHours]uint8 // by the hour it began, modulo trailHours
}

// stretch is a part of the past in which the burner ran for so long.
type stretch struct {
	from, to reading.Instant
	ran      float64 // h
	torn     bool    // when within it is not known, nor how it is shared with torn neighbours
}

// span is an amount of burner time with its bounds, h.
type span struct{ low, est, high float64 }

func hourOf(at reading.Instant) int32 { return int32(at / (3600 * second)) }

func fullHour(n int32) reading.Instant { return reading.Instant(n) * 3600 * second }

func (t *trail) slot(hour int32) *uint8 { return &t.Ran[hour%trailHours] }

// due reports whether a full hour lies between the trail's end and at.
func (t *trail) due(at reading.Instant) bool { return hourOf(at) > t.Hour }

// follow goes on to an instant at which the burner has run for some hours,
// from the one before at which it had run for others.
func (t *trail) follow(from, at reading.Instant, before, run float64) {
	to := hourOf(at)
	if t.Hour == 0 || from == 0 {
		*t = trail{Hour: to, Run: before}
		return
	}
	torn := at.Sub(from) > tornFrom
	if far := to - trailHours; t.Hour < far {
		t.Hour, t.Run = far, between(from, at, before, run, fullHour(far))
	}
	for t.Hour < to {
		t.close(between(from, at, before, run, fullHour(t.Hour+1)), torn)
	}
	t.Torn = torn
}

// between lays the burner time of two instants evenly over what is between.
func between(from, to reading.Instant, a, b float64, at reading.Instant) float64 {
	return a + (b-a)*float64(at-from)/float64(to-from)
}

// close ends the hour in progress, at whose end the burner had run for so
// long. What is lost by rounding is carried into the next.
func (t *trail) close(run float64, torn bool) {
	exact := (run - t.Run) * trailSteps
	steps := math.Round(min(max(exact, 0), trailSteps))
	*t.slot(t.Hour) = uint8(steps)
	if torn || t.Torn {
		*t.slot(t.Hour) |= tornHour
	}
	t.Torn = false
	t.Hour, t.Kept = t.Hour+1, min(t.Kept+1, trailHours)
	if math.Abs(exact-steps) <= 1 {
		run = t.Run + steps/trailSteps
	}
	t.Run = run
}

// past lists the stretches up to now, when the burner has run for so long,
// newest first; the last goes back to the begin of the record.
func (t *trail) past(begin, now reading.Instant, run float64) []stretch {
	if t.Hour == 0 {
		return []stretch{{begin, now, run, true}}
	}
	out := []stretch{{fullHour(t.Hour), max(now, fullHour(t.Hour)), max(0, run-t.Run), t.Torn}}
	left := t.Run
	for i := int32(1); i <= t.Kept; i++ {
		x := *t.slot(t.Hour - i)
		ran := float64(x&^tornHour) / trailSteps
		out = append(out, stretch{fullHour(t.Hour - i), fullHour(t.Hour - i + 1), ran, x&tornHour != 0})
		left -= ran
	}
	if first := out[len(out)-1].from; begin < first {
		out = append(out, stretch{begin, first, max(0, left), true})
	}
	return out
}

// since gives how long the burner ran from an instant up to now.
func (t *trail) since(at, begin, now reading.Instant, run float64) span {
	all, sum := t.past(begin, now, run), span{}
	for _, s := range all {
		sum.est += s.ran * s.after(at)
	}
	for len(all) > 0 {
		s := all[0]
		all = all[1:]
		for s.torn && len(all) > 0 && all[0].torn {
			s.from, s.ran, all = all[0].from, s.ran+all[0].ran, all[1:]
		}
		low, high := s.bounds(at)
		sum.low, sum.high = sum.low+low, sum.high+high
	}
	const rounding = 1.0 / trailSteps
	sum.low = min(max(0, sum.low-rounding), sum.est)
	sum.high = max(sum.est, min(sum.high+rounding, now.Seconds(at)/3600))
	return sum
}

// after gives the share of the stretch that is after an instant.
func (s stretch) after(at reading.Instant) float64 {
	if at <= s.from {
		return 1
	}
	return max(0, float64(s.to-at)/float64(s.to-s.from))
}

// bounds gives how long the burner ran in the stretch after an instant, at
// least and at most, h.
func (s stretch) bounds(at reading.Instant) (low, high float64) {
	switch {
	case at <= s.from:
		return s.ran, s.ran
	case at >= s.to:
		return 0, 0
	}
	return max(0, s.ran-at.Seconds(s.from)/3600), min(s.ran, s.to.Seconds(at)/3600)
}
