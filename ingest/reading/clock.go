package reading

import (
	"cmp"
	"time"
)

// AtClock gives the first instant of a day at which clocks in a zone show a
// time of day, counted from midnight by the clock (24h is the next midnight);
// nil stands for UTC. Where clocks go back and show it twice, that is the first
// of the two; where they go forward and never show it, the moment at which
// they do. time.Date promises neither: of a midnight that is skipped it gives
// an hour of the day before west of Greenwich, and one of the day itself east.
func AtClock(year int, month time.Month, day int, clock time.Duration, zone *time.Location) Instant {
	zone = cmp.Or(zone, time.UTC)
	shown := time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Add(clock)
	// A change lies between the offsets of a day before and a day after: none
	// follows another within two days (IANA time zone database, from memory).
	before := shown.Add(-offset(shown.Add(-24*time.Hour), zone))
	if shows(before, zone, shown) {
		return InstantOf(before)
	}
	if after := shown.Add(-offset(shown.Add(24*time.Hour), zone)); shows(after, zone, shown) {
		return InstantOf(after)
	}
	change, _ := before.In(zone).ZoneBounds()
	return InstantOf(change)
}

// shows reports whether clocks in a zone show a time, given as if it were UTC.
func shows(at time.Time, zone *time.Location, shown time.Time) bool {
	return at.Add(offset(at, zone)).Equal(shown)
}

func offset(at time.Time, zone *time.Location) time.Duration {
	_, seconds := at.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}
