package rota_test

import (
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"heaterd/alerts/notify/rota"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func utc(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// The changes of 2026 by the IANA time zone database, worked out by hand;
// which of two readings counts is RFC 5545 section 3.3.5. On Lord Howe Island
// clocks change by half an hour.
func TestPublishedChangesOfClocks(t *testing.T) {
	for _, c := range []struct{ zone, date, clock, want, why string }{
		{"Europe/Berlin", "2026-03-29", "1h59m", "2026-03-29T00:59:00Z", "before the change forward"},
		{"Europe/Berlin", "2026-03-29", "2h30m", "2026-03-29T01:30:00Z", "never shown: 03:30"},
		{"Europe/Berlin", "2026-03-29", "3h", "2026-03-29T01:00:00Z", "after the change forward"},
		{"Europe/Berlin", "2026-10-25", "2h30m", "2026-10-25T00:30:00Z", "shown twice: the first"},
		{"Europe/Berlin", "2026-10-25", "3h", "2026-10-25T02:00:00Z", "after the change back"},
		{"America/New_York", "2026-03-08", "2h30m", "2026-03-08T07:30:00Z", "never shown: 03:30"},
		{"America/New_York", "2026-03-08", "8h", "2026-03-08T12:00:00Z", "after the change forward"},
		{"America/New_York", "2026-11-01", "1h30m", "2026-11-01T05:30:00Z", "shown twice: the first"},
		{"America/New_York", "2026-11-01", "8h", "2026-11-01T13:00:00Z", "after the change back"},
		{"Australia/Lord_Howe", "2026-04-05", "1h45m", "2026-04-04T14:45:00Z", "shown twice: the first"},
		{"Australia/Lord_Howe", "2026-04-05", "2h15m", "2026-04-04T15:45:00Z", "after the change back"},
		{"Australia/Lord_Howe", "2026-10-04", "2h15m", "2026-10-03T15:45:00Z", "never shown: 02:45"},
		{"Australia/Lord_Howe", "2026-10-04", "2h45m", "2026-10-03T15:45:00Z", "after the change forward"},
	} {
		date, _ := time.Parse(time.DateOnly, c.date)
		clock, _ := time.ParseDuration(c.clock)
		got := rota.Wall(date.Year(), date.Month(), date.Day(), clock, zone(t, c.zone)).UTC().Format(time.RFC3339)
		t.Logf("%s %s %s, %s, RFC 5545 3.3.5 and the IANA database: expected %s, got %s", c.zone, c.date, c.clock, c.why, c.want, got)
		if got != c.want {
			t.Errorf("%s %s %s: got %s, want %s", c.zone, c.date, c.clock, got, c.want)
		}
	}
}

// Whatever clocks show is found again, as the first instant that shows it.
func TestWallFindsWhatClocksShow(t *testing.T) {
	names := []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Africa/Casablanca", "America/St_Johns", "UTC", "Asia/Kathmandu"}
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(names).Draw(r, "zone"))
		at := time.Unix(rapid.Int64Range(utc(t, "1990-01-01T00:00:00Z").Unix(), utc(t, "2037-01-01T00:00:00Z").Unix()).Draw(r, "at"), 0).In(z)
		h, m, s := at.Clock()
		clock := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
		got := rota.Wall(at.Year(), at.Month(), at.Day(), clock, z)
		if got.Format(time.DateTime) != at.Format(time.DateTime) || got.After(at) || at.Sub(got) > 3*time.Hour {
			r.Fatalf("clocks show %s at %s, found %s", at.Format(time.DateTime), at, got)
		}
	})
}
