package reading_test

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

// Times that clocks show twice, and that they never show, midnight among them.
func TestAtClockOverChanges(t *testing.T) {
	for _, c := range []struct{ zone, date, clock, want string }{
		{"Europe/Dublin", "2026-01-14", "6h", "2026-01-14T06:00:00Z"},
		{"Europe/Dublin", "2026-03-29", "1h30m", "2026-03-29T01:00:00Z"},
		{"Europe/Dublin", "2026-03-29", "2h", "2026-03-29T01:00:00Z"},
		{"Europe/Dublin", "2026-10-25", "1h30m", "2026-10-25T00:30:00Z"},
		{"Europe/Dublin", "2026-10-25", "2h", "2026-10-25T02:00:00Z"},
		{"America/St_Johns", "2026-03-08", "2h30m", "2026-03-08T05:30:00Z"},
		{"America/St_Johns", "2026-11-01", "1h30m", "2026-11-01T04:00:00Z"},
		{"Australia/Lord_Howe", "2026-10-04", "2h15m", "2026-10-03T15:30:00Z"},
		{"Australia/Lord_Howe", "2026-04-05", "1h45m", "2026-04-04T14:45:00Z"},
		{"Africa/Cairo", "2026-04-24", "0h", "2026-04-23T22:00:00Z"},
		{"Africa/Cairo", "2026-10-29", "23h30m", "2026-10-29T20:30:00Z"},
		{"Africa/Cairo", "2026-10-29", "24h", "2026-10-29T22:00:00Z"},
		{"Asia/Beirut", "2026-03-29", "0h", "2026-03-28T22:00:00Z"},
		{"America/Santiago", "2026-09-06", "0h", "2026-09-06T04:00:00Z"},
		{"America/Santiago", "2026-09-05", "24h", "2026-09-06T04:00:00Z"},
		{"America/Sao_Paulo", "2018-11-04", "0h", "2018-11-04T03:00:00Z"},
		{"America/Havana", "2026-11-01", "0h", "2026-11-01T04:00:00Z"},
	} {
		date, _ := time.Parse(time.DateOnly, c.date)
		clock, _ := time.ParseDuration(c.clock)
		y, m, d := date.Date()
		if got := reading.AtClock(y, m, d, clock, zone(t, c.zone)).String(); got != c.want {
			t.Errorf("%s on %s in %s: %s, want %s", c.clock, c.date, c.zone, got, c.want)
		}
	}
}

// Whatever clocks show is found, never later than when they did, and of a day
// its times come in order.
func TestAtClockFindsWhatClocksShow(t *testing.T) {
	names := []string{"Europe/Dublin", "America/St_Johns", "Australia/Lord_Howe", "America/Santiago", "Africa/Cairo", "Asia/Beirut", "America/Havana", "Atlantic/Azores", "UTC"}
	var zones []*time.Location
	for _, n := range names {
		zones = append(zones, zone(t, n))
	}
	rapid.Check(t, func(t *rapid.T) {
		z := zones[rapid.IntRange(0, len(zones)-1).Draw(t, "zone")]
		at := time.Unix(rapid.Int64Range(1_325_376_000, 2_145_916_800).Draw(t, "at"), 0).In(z) // 2012 to 2037
		y, m, d := at.Date()
		h, n, s := at.Clock()
		clock := time.Duration(h)*time.Hour + time.Duration(n)*time.Minute + time.Duration(s)*time.Second
		got := reading.AtClock(y, m, d, clock, z)
		shown := got.Time().In(z)
		if shown.Format(time.DateTime) != at.Format(time.DateTime) || got > reading.InstantOf(at) || reading.InstantOf(at).Sub(got) > time.Hour {
			t.Fatalf("clocks show %s at %s, found %s", at.Format(time.DateTime), at, shown)
		}
		later := clock + time.Duration(rapid.Int64Range(0, int64(24*time.Hour-clock)).Draw(t, "later"))
		if next := reading.AtClock(y, m, d, later, z); next < got {
			t.Fatalf("%v of %v comes at %v, %v at %v", later, at, next, clock, got)
		}
	})
}
