package service

import (
	"testing"
	"time"
	_ "time/tzdata"

	"heaterd/ingest/reading"
	"pgregory.net/rapid"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// Both clock changes of the year in three zones, one of them southern with a
// half-hour change and one whose change skips midnight.
func TestDateOverClockChanges(t *testing.T) {
	for _, c := range []struct {
		zone, at string
		want     string
		hours    float64 // length of that day
	}{
		{"Europe/Dublin", "2026-03-29T00:30:00Z", "2026-03-29", 23},
		{"Europe/Dublin", "2026-03-29T22:59:59Z", "2026-03-29", 23},
		{"Europe/Dublin", "2026-03-29T23:00:00Z", "2026-03-30", 24},
		{"Europe/Dublin", "2026-10-25T23:59:59Z", "2026-10-25", 25},
		{"America/Chicago", "2026-03-08T05:59:59Z", "2026-03-07", 24},
		{"America/Chicago", "2026-03-08T06:00:00Z", "2026-03-08", 23},
		{"America/Chicago", "2026-11-02T05:59:59Z", "2026-11-01", 25},
		{"Australia/Lord_Howe", "2026-04-04T15:00:00Z", "2026-04-05", 24.5},
		{"Australia/Lord_Howe", "2026-10-04T12:59:59Z", "2026-10-04", 23.5},
		{"America/Havana", "2026-03-08T05:00:00Z", "2026-03-08", 23},
		{"America/Havana", "2026-11-01T05:30:00Z", "2026-11-01", 25},
	} {
		z := zone(t, c.zone)
		at, _ := time.Parse(time.RFC3339, c.at)
		d := DateOf(reading.InstantOf(at), z)
		if d.String() != c.want {
			t.Errorf("%s in %s: day %s, want %s", c.at, c.zone, d, c.want)
		}
		if got := (d + 1).Start(z).Sub(d.Start(z)).Hours(); got != c.hours {
			t.Errorf("%s in %s lasts %v h, want %v", d, c.zone, got, c.hours)
		}
	}
}

func TestDateStartIsItsFirstInstant(t *testing.T) {
	zones := []*time.Location{zone(t, "Europe/Dublin"), zone(t, "America/Havana"), zone(t, "Australia/Lord_Howe"), zone(t, "Atlantic/Azores"), nil}
	rapid.Check(t, func(t *rapid.T) {
		z := zones[rapid.IntRange(0, len(zones)-1).Draw(t, "zone")]
		d := Date(rapid.IntRange(10_000, 25_000).Draw(t, "day"))
		at := d.Start(z)
		if DateOf(at, z) != d || DateOf(at.Add(-time.Microsecond), z) != d-1 {
			t.Fatalf("%s begins at %s in %v, the moment before is %s", d, at, z, DateOf(at.Add(-time.Microsecond), z))
		}
	})
}

func TestDateText(t *testing.T) {
	d := NewDate(2024, time.February, 29)
	if e, err := ParseDate(d.String()); err != nil || e != d || d.String() != "2024-02-29" {
		t.Errorf("%s became %s (%v)", d, e, err)
	}
	if _, err := ParseDate("2026-02-30"); err == nil {
		t.Error("30 February was taken")
	}
}
