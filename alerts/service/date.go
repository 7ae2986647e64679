package service

import (
	"cmp"
	"fmt"
	"time"

	"heaterd/ingest/reading"
)

// Date is a day of the calendar, as days since 1970-01-01. It has no zone:
// DateOf asks what day it is somewhere, Start asks when that day begins there.
type Date int32

// DateOf gives the day it is at an instant in a zone; nil stands for UTC.
func DateOf(i reading.Instant, zone *time.Location) Date {
	y, m, d := i.Time().In(cmp.Or(zone, time.UTC)).Date()
	return NewDate(y, m, d)
}

// NewDate gives the date of a year, month and day; days beyond the month's
// end run into the next month, as in time.Date.
func NewDate(year int, month time.Month, day int) Date {
	return Date(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ParseDate reads YYYY-MM-DD.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("cannot read date %q: it must be YYYY-MM-DD", s)
	}
	return Date(t.Unix() / 86400), nil
}

func (d Date) utc() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// Words writes the day as people say it: 2 Jan 2006.
func (d Date) Words() string { return d.utc().Format("2 Jan 2006") }

// Start gives the first instant of the day in a zone. Where a clock change
// skips midnight that is the instant of the change; where it repeats
// midnight, the first of the two.
func (d Date) Start(zone *time.Location) reading.Instant {
	y, m, n := d.utc().Date()
	return reading.AtClock(y, m, n, 0, zone)
}

// String writes YYYY-MM-DD.
func (d Date) String() string { return d.utc().Format(time.DateOnly) }
