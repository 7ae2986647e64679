package service

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func day(t testing.TB, s string) Date {
	t.Helper()
	d, err := ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestSeasonDue(t *testing.T) {
	north := DefaultSeason()
	south := HeatingSeason{Start: MonthDay{time.May, 1}, End: MonthDay{time.September, 30}}
	for _, c := range []struct {
		name   string
		season HeatingSeason
		last   string
		times  float64
		want   string
	}{
		{"half a season later", north, "2025-10-01", 2, "2026-01-15"},
		{"from before the season", north, "2025-08-10", 2, "2026-01-14"},
		{"over the end, the summer left out", north, "2026-03-01", 2, "2026-11-15"},
		{"over a leap day", north, "2023-12-01", 2, "2024-03-16"},
		{"a southern winter", south, "2026-05-01", 3, "2026-06-21"},
	} {
		if got, _ := c.season.every(day(t, c.last), c.times); got != day(t, c.want) {
			t.Errorf("%s: last %s, %v times a season: due %s, want %s", c.name, c.last, c.times, got, c.want)
		}
	}
}

func TestSeasonEndDue(t *testing.T) {
	for _, c := range []struct {
		name, last string
		logged     bool
		want       string
	}{
		{"put away in spring serves that spring", "2026-04-20", true, "2027-04-30"},
		{"put away in summer serves the spring before", "2026-06-01", true, "2027-04-30"},
		{"put away in autumn does not serve next spring", "2026-10-15", true, "2027-04-30"},
		{"first seen in spring", "2026-03-20", false, "2026-04-30"},
		{"first seen on the last day", "2026-04-30", false, "2026-04-30"},
	} {
		if got := DefaultSeason().endAfter(day(t, c.last), c.logged); got != day(t, c.want) {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestSeasonDatesNeverFallOutOfSeason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Date(rapid.IntRange(15_000, 25_000).Draw(t, "last"))
		n := float64(rapid.IntRange(1, 12).Draw(t, "times"))
		due, _ := DefaultSeason().every(d, n)
		later, _ := DefaultSeason().every(d+1, n)
		first, last := DefaultSeason().window(due)
		if due <= d || due < first || due > last || later < due {
			t.Fatalf("last %s, due %s, season %s to %s, a day later due %s", d, due, first, last, later)
		}
	})
}
