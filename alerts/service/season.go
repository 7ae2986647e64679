package service

import (
	"math"
	"time"
)

// MonthDay is a day of the year; 29 February stands for 1 March in a common
// year.
type MonthDay struct {
	Month time.Month
	Day   int
}

// HeatingSeason is the part of the year in which heaters work, first and
// last day included. It may run over the new year. The zero value stands for
// DefaultSeason.
type HeatingSeason struct {
	Start, End MonthDay
}

// DefaultSeason is the heating season of the northern middle latitudes,
// 1 October to 30 April (common practice, no source).
func DefaultSeason() HeatingSeason {
	return HeatingSeason{Start: MonthDay{time.October, 1}, End: MonthDay{time.April, 30}}
}

func (s HeatingSeason) orDefault() HeatingSeason {
	if s == (HeatingSeason{}) {
		return DefaultSeason()
	}
	return s
}

func (m MonthDay) in(year int) Date { return NewDate(year, m.Month, m.Day) }

// window gives the season that d lies in or, out of season, the next one:
// its first and its last day.
func (s HeatingSeason) window(d Date) (first, last Date) {
	for y := d.utc().Year() - 1; ; y++ {
		first, last = s.Start.in(y), s.End.in(y)
		if last < first {
			last = s.End.in(y + 1)
		}
		if d <= last {
			return first, last
		}
	}
}

// length gives the days of a season without a leap day, so that an interval
// does not change from one season to the next.
func (s HeatingSeason) length() int {
	first, last := s.window(NewDate(2025, s.Start.Month, s.Start.Day))
	return int(last-first) + 1
}

// after gives the date by which n days of season have passed since d. Days
// out of season do not count, so work done after the last heating day is
// due again in the next season.
func (s HeatingSeason) after(d Date, n int) Date {
	for {
		first, last := s.window(d + 1)
		d = max(d, first-1)
		if d+Date(n) <= last {
			return d + Date(n)
		}
		n -= int(last - d)
		d = last
	}
}

// every gives the due date of work done `times` a season and last done on d:
// the season is cut in that many equal parts and each lasts one part.
func (s HeatingSeason) every(d Date, times float64) (due Date, interval int) {
	interval = max(1, int(math.Round(float64(s.length())/times)))
	return s.after(d, interval), interval
}

// endAfter gives the season end at which work is next due that was last done
// on d. Work done in the second half of a season, or after it, served that
// season's end. Work never logged is due at the first end from d on.
func (s HeatingSeason) endAfter(d Date, logged bool) Date {
	first, last := s.window(d)
	if logged && d > first+(last-first)/2 {
		_, last = s.window(last + 1)
	}
	return last
}
