package shutdown

import (
	"slices"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

// EndedByHours reports whether the site's planned hours off account for the
// end of a burn: the end lies in them, or shortly before, and the heater was
// lit when they began. One that was lit during the hours was not switched off
// by their beginning.
func EndedByHours(off []fleet.OffHours, zone *time.Location, b burner.Burn, slack time.Duration) bool {
	return anyOff(off, zone, b.End, func(from, to reading.Instant) bool {
		return EndedByStop(from, to, b, slack)
	})
}

// EndedByStop reports the same of a planned stop. People write it down some
// minutes before or after the act.
func EndedByStop(from, to reading.Instant, b burner.Burn, slack time.Duration) bool {
	return b.End >= from.Add(-slack) && b.End < to && b.Start <= from.Add(slack)
}

func anyOff(off []fleet.OffHours, zone *time.Location, at reading.Instant, covers func(from, to reading.Instant) bool) bool {
	for _, o := range off {
		for day := -2; day <= 1; day++ {
			if from, to, ok := onDay(o, zone, at, day); ok && covers(from, to) {
				return true
			}
		}
	}
	return false
}

// OffUntil gives when the planned hours off that cover an instant end; 0 where
// none do.
func OffUntil(off []fleet.OffHours, zone *time.Location, at reading.Instant) (until reading.Instant) {
	anyOff(off, zone, at, func(from, to reading.Instant) bool {
		if from <= at && at < to {
			until = max(until, to)
		}
		return false
	})
	return until
}

// NextOff gives when planned hours off next begin after at, within a week.
func NextOff(off []fleet.OffHours, zone *time.Location, at reading.Instant) (reading.Instant, bool) {
	next := reading.Instant(0)
	for _, o := range off {
		for day := -1; day <= 8; day++ {
			from, _, ok := onDay(o, zone, at, day)
			if ok && from > at && (next == 0 || from < next) {
				next = from
			}
		}
	}
	return next, next != 0
}

// onDay gives the stretch that begins so many days after the one at lies in;
// not ok if none begins then. Of a time that clocks show twice the first counts, at
// both ends: somebody is told of the cold rather an hour early than late.
func onDay(o fleet.OffHours, zone *time.Location, at reading.Instant, day int) (from, to reading.Instant, ok bool) {
	if zone == nil {
		zone = time.UTC
	}
	y, m, d := at.Time().In(zone).Date()
	noon := time.Date(y, m, d+day, 12, 0, 0, 0, zone)
	if !slices.Contains(o.Days, noon.Weekday()) {
		return 0, 0, false
	}
	last := d + day
	if o.To <= o.From {
		last++
	}
	return reading.AtClock(y, m, d+day, o.From, zone), reading.AtClock(y, m, last, o.To, zone), true
}
