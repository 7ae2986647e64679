package rota

import "time"

// Wall gives the instant at which clocks in zone show the given time of day,
// counted from midnight by the clock (24h is the next midnight).
//
// Where clocks are put back and show the time twice, the first of the two is
// meant; where they are put forward and never show it, the time is read with
// the offset from before the change, so 02:30 becomes 03:30 (RFC 5545 section
// 3.3.5 says so for both).
func Wall(year int, month time.Month, day int, clock time.Duration, zone *time.Location) time.Time {
	return wall(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Add(clock), zone)
}

// wall takes what the clock shows as if it were UTC.
func wall(shown time.Time, zone *time.Location) time.Time {
	// No zone changes its offset twice within two days (IANA time zone
	// database, for the years since 1970, from memory). Of two readings the one
	// with the offset from before the change is the first.
	before := shown.Add(-offset(shown.Add(-24*time.Hour), zone))
	after := shown.Add(-offset(shown.Add(24*time.Hour), zone))
	if !showing(before, zone).Equal(shown) && showing(after, zone).Equal(shown) {
		return after.In(zone)
	}
	return before.In(zone)
}

func offset(at time.Time, zone *time.Location) time.Duration {
	_, seconds := at.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}

// showing is what clocks in zone show, as if it were UTC.
func showing(at time.Time, zone *time.Location) time.Time {
	return at.Add(offset(at, zone)).UTC()
}
