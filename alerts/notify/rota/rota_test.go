package rota_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/notify/rota"
)

func turns(t testing.TB, zoneName string, change func(*rota.Terms)) *rota.Rota {
	t.Helper()
	terms := rota.Terms{Zone: zone(t, zoneName), Turns: []string{"mo", "jo", "al"}, Begins: "2026-01-05", HandOver: 8 * time.Hour}
	if change != nil {
		change(&terms)
	}
	r, err := rota.New(terms)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func listed(shifts []rota.Shift) []string {
	var out []string
	for _, s := range shifts {
		out = append(out, s.From.UTC().Format("2006-01-02T15:04Z")+" "+s.Person)
	}
	return out
}

// The hand-over is at 08:00 by the clock on both sides of each change of
// clocks: tables made by hand from the changes above.
func TestHandOverStaysOnTheClock(t *testing.T) {
	for _, c := range []struct {
		zone, from, to string
		want           []string
	}{
		{"Europe/Berlin", "2026-03-23T12:00:00Z", "2026-04-06T12:00:00Z", []string{"2026-03-23T12:00Z al", "2026-03-30T06:00Z mo", "2026-04-06T06:00Z jo"}},
		{"Europe/Berlin", "2026-10-19T12:00:00Z", "2026-11-02T12:00:00Z", []string{"2026-10-19T12:00Z al", "2026-10-26T07:00Z mo", "2026-11-02T07:00Z jo"}},
		{"America/New_York", "2026-03-02T14:00:00Z", "2026-03-16T14:00:00Z", []string{"2026-03-02T14:00Z al", "2026-03-09T12:00Z mo", "2026-03-16T12:00Z jo"}},
		{"America/New_York", "2026-10-26T14:00:00Z", "2026-11-09T14:00:00Z", []string{"2026-10-26T14:00Z mo", "2026-11-02T13:00Z jo", "2026-11-09T13:00Z al"}},
		{"Australia/Lord_Howe", "2026-03-30T00:00:00Z", "2026-04-13T00:00:00Z", []string{"2026-03-30T00:00Z mo", "2026-04-05T21:30Z jo", "2026-04-12T21:30Z al"}},
		{"Australia/Lord_Howe", "2026-09-28T00:00:00Z", "2026-10-12T00:00:00Z", []string{"2026-09-28T00:00Z al", "2026-10-04T21:00Z mo", "2026-10-11T21:00Z jo"}},
	} {
		got := listed(turns(t, c.zone, nil).Shifts(utc(t, c.from), utc(t, c.to)))
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.zone, got, c.want)
		}
	}
}

func TestOverridesAndHolidays(t *testing.T) {
	r := turns(t, "UTC", func(terms *rota.Terms) {
		terms.Overrides = []rota.Override{
			{"jo", utc(t, "2026-01-06T10:00:00Z"), utc(t, "2026-01-06T20:00:00Z")},
			{"al", utc(t, "2026-01-06T18:00:00Z"), utc(t, "2026-01-06T22:00:00Z")},
		}
		terms.Holidays = []rota.Holiday{
			{"jo", utc(t, "2026-01-14T00:00:00Z"), utc(t, "2026-01-16T00:00:00Z")},
			{"jo", utc(t, "2026-01-06T00:00:00Z"), utc(t, "2026-01-07T00:00:00Z")}, // an override counts all the same
		}
	})
	want := []string{
		"2026-01-05T08:00Z mo", "2026-01-06T10:00Z jo", "2026-01-06T18:00Z al", "2026-01-06T22:00Z mo",
		"2026-01-12T08:00Z jo", "2026-01-14T00:00Z al", "2026-01-16T00:00Z jo", "2026-01-19T08:00Z al",
	}
	if got := listed(r.Shifts(utc(t, "2026-01-01T00:00:00Z"), utc(t, "2026-01-20T00:00:00Z"))); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	gaps := r.Gaps(utc(t, "2026-01-01T00:00:00Z"), utc(t, "2026-01-20T00:00:00Z"))
	if len(gaps) != 1 || !gaps[0].From.Equal(utc(t, "2026-01-01T00:00:00Z")) || !gaps[0].To.Equal(utc(t, "2026-01-05T08:00:00Z")) {
		t.Errorf("gaps %v", gaps)
	}
}

func TestNextIsSomebodyElseWhoIsThere(t *testing.T) {
	r := turns(t, "UTC", func(terms *rota.Terms) {
		terms.Overrides = []rota.Override{{"jo", utc(t, "2026-01-06T10:00:00Z"), utc(t, "2026-01-06T20:00:00Z")}}
		terms.Holidays = []rota.Holiday{{"jo", utc(t, "2026-01-08T00:00:00Z"), utc(t, "2026-01-09T00:00:00Z")}}
	})
	for at, want := range map[string]string{
		"2026-01-01T00:00:00Z": "mo", // before the first turn
		"2026-01-05T09:00:00Z": "jo",
		"2026-01-06T12:00:00Z": "al", // jo is on call, by override
		"2026-01-08T12:00:00Z": "al", // jo is away
		"2026-01-26T09:00:00Z": "jo",
	} {
		if got, _ := r.Next(utc(t, at)); got != want {
			t.Errorf("at %s: %q, want %q", at, got, want)
		}
	}
	alone := turns(t, "UTC", func(terms *rota.Terms) { terms.Turns = []string{"mo"} })
	if got, ok := alone.Next(utc(t, "2026-01-06T12:00:00Z")); ok {
		t.Errorf("after the only one comes %q", got)
	}
}

func TestBadTurnsAreRefused(t *testing.T) {
	for _, terms := range []rota.Terms{
		{Turns: []string{"mo"}, Begins: "5 January"},
		{Turns: []string{"mo"}, Begins: "2026-01-05", Calendar: &rota.Calendar{}},
	} {
		if _, err := rota.New(terms); err == nil {
			t.Errorf("%+v was taken", terms)
		}
	}
	empty, err := rota.New(rota.Terms{})
	if err != nil {
		t.Fatal(err)
	}
	if who, ok := empty.OnCall(utc(t, "2026-01-05T00:00:00Z")); ok {
		t.Errorf("%q is on call in an empty rota", who)
	}
}

// Shifts and gaps tile the time asked for and agree with OnCall everywhere.
func TestShiftsAndGapsTileTime(t *testing.T) {
	instants := rapid.Map(rapid.IntRange(0, 60*24*4), func(n int) time.Time {
		return time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(n) * 15 * time.Minute)
	})
	rapid.Check(t, func(r *rapid.T) {
		stretch := func() (time.Time, time.Time) {
			a, b := instants.Draw(r, "a"), instants.Draw(r, "b")
			if b.Before(a) {
				a, b = b, a
			}
			return a, b
		}
		who := rapid.SampledFrom([]string{"mo", "jo", "al"})
		ro := turns(t, rapid.SampledFrom([]string{"Europe/Berlin", "America/New_York"}).Draw(r, "zone"), func(terms *rota.Terms) {
			terms.Begins = "2026-03-10"
			for range rapid.IntRange(0, 3).Draw(r, "overrides") {
				from, to := stretch()
				terms.Overrides = append(terms.Overrides, rota.Override{Person: who.Draw(r, "who"), From: from, To: to})
			}
			for range rapid.IntRange(0, 5).Draw(r, "holidays") {
				from, to := stretch()
				terms.Holidays = append(terms.Holidays, rota.Holiday{Person: who.Draw(r, "who"), From: from, To: to})
			}
		})
		from, to := stretch()
		tiles(r, ro, from, to)
	})
}

func tiles(r interface{ Fatalf(string, ...any) }, ro *rota.Rota, from, to time.Time) {
	all := ro.Shifts(from, to)
	for _, g := range ro.Gaps(from, to) {
		all = append(all, rota.Shift{From: g.From, To: g.To})
	}
	slices.SortFunc(all, func(a, b rota.Shift) int { return a.From.Compare(b.From) })
	at := from
	for _, s := range all {
		if !s.From.Equal(at) || !s.To.After(s.From) {
			r.Fatalf("%v does not follow %s", s, at)
		}
		for _, probe := range []time.Time{s.From, s.From.Add(s.To.Sub(s.From) / 2), s.To.Add(-1)} {
			if who, _ := ro.OnCall(probe); who != s.Person {
				r.Fatalf("at %s %q is on call, listed is %v", probe, who, s)
			}
		}
		at = s.To
	}
	if from.Before(to) && !at.Equal(to) {
		r.Fatalf("the list ends at %s, not %s", at, to)
	}
}

func ExampleRota_Gaps() {
	zone := time.UTC
	saturday := time.Date(2026, 1, 17, 2, 0, 0, 0, zone)
	r, _ := rota.New(rota.Terms{
		Zone: zone, Turns: []string{"mo"}, Begins: "2026-01-05", HandOver: 8 * time.Hour,
		Holidays: []rota.Holiday{{Person: "mo", From: saturday, To: saturday.Add(4 * time.Hour)}},
	})
	for _, g := range r.Gaps(saturday.AddDate(0, 0, -3), saturday.AddDate(0, 0, 3)) {
		fmt.Printf("nobody on call %s to %s\n", g.From.Format("Mon 15:04"), g.To.Format("Mon 15:04"))
	}
	// Output: nobody on call Sat 02:00 to Sat 06:00
}
