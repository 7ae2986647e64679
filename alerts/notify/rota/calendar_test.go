package rota_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/notify/rota"
)

var crew = []rota.Person{{ID: "mo", Name: "Mo Miller", Address: "mo@example.org"}, {ID: "jo", Name: "Jo"}, {ID: "al"}}

func reader(t testing.TB) rota.Reader {
	return rota.Reader{Zone: zone(t, "Europe/Berlin"), People: crew, Lookup: time.LoadLocation}
}

// vcal writes a calendar of events, each given as its lines.
func vcal(events ...string) []byte {
	var b strings.Builder
	b.WriteString("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n")
	for _, e := range events {
		b.WriteString("BEGIN:VEVENT\r\n" + strings.ReplaceAll(strings.TrimSpace(e), "\n", "\r\n") + "\r\nEND:VEVENT\r\n")
	}
	b.WriteString("END:VCALENDAR\r\n")
	return []byte(b.String())
}

func calendar(t testing.TB, events ...string) *rota.Rota {
	t.Helper()
	c, err := reader(t).Read(vcal(events...))
	if err != nil {
		t.Fatal(err)
	}
	r, err := rota.New(rota.Terms{Zone: zone(t, "Europe/Berlin"), Calendar: c})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestCalendarSaysWhoIsOnCall(t *testing.T) {
	for _, c := range []struct {
		name     string
		events   []string
		from, to string
		want     []string
	}{
		{"one event by attendee, in UTC", []string{"UID:1\nSUMMARY:On call\nATTENDEE;CN=Mo:mailto:MO@example.org\nDTSTART:20260112T080000Z\nDTEND:20260112T180000Z"},
			"2026-01-12T00:00:00Z", "2026-01-13T00:00:00Z", []string{"08:00 18:00 mo"}},
		{"DURATION, by name", []string{"UID:1\nSUMMARY:mo miller\nDTSTART;TZID=America/New_York:20260112T080000\nDURATION:PT10H30M"},
			"2026-01-12T00:00:00Z", "2026-01-14T00:00:00Z", []string{"13:00 23:30 mo"}},
		{"whole days in the rota's zone", []string{"UID:1\nSUMMARY:jo\nDTSTART;VALUE=DATE:20260112\nDTEND;VALUE=DATE:20260113"},
			"2026-01-10T00:00:00Z", "2026-01-14T00:00:00Z", []string{"11 23:00 12 23:00 jo"}},
		{"a whole day without an end", []string{"UID:1\nSUMMARY:jo\nDTSTART;VALUE=DATE:20260112"},
			"2026-01-10T00:00:00Z", "2026-01-14T00:00:00Z", []string{"11 23:00 12 23:00 jo"}},
		{"a whole day is 23 hours when clocks go forward", []string{"UID:1\nSUMMARY:jo\nDTSTART;VALUE=DATE:20260329"},
			"2026-03-28T00:00:00Z", "2026-03-31T00:00:00Z", []string{"28 23:00 29 22:00 jo"}},
		{"weeks hand over on the clock over the change", []string{
			"UID:1\nSUMMARY:mo\nDTSTART;TZID=Europe/Berlin:20260323T080000\nDTEND;TZID=Europe/Berlin:20260330T080000\nRRULE:FREQ=WEEKLY;INTERVAL=2",
			"UID:2\nSUMMARY:jo\nDTSTART;TZID=Europe/Berlin:20260330T080000\nDTEND;TZID=Europe/Berlin:20260406T080000\nRRULE:FREQ=WEEKLY;INTERVAL=2"},
			"2026-03-23T12:00:00Z", "2026-04-08T00:00:00Z", []string{"23 12:00 30 06:00 mo", "30 06:00 06 06:00 jo", "06 06:00 08 00:00 mo"}},
		{"P7D by the clock, PT168H by elapsed time", []string{
			"UID:1\nSUMMARY:mo\nDTSTART;TZID=Europe/Berlin:20260323T080000\nDURATION:P7D",
			"UID:2\nSUMMARY:jo\nDTSTART;TZID=Europe/Berlin:20261019T080000\nDURATION:PT168H"},
			"2026-03-20T00:00:00Z", "2026-11-01T00:00:00Z", []string{"23 07:00 30 06:00 mo", "19 06:00 26 06:00 jo"}},
		{"nights by weekday, one left out, one moved, one cancelled", []string{
			"UID:1\nSUMMARY:mo\nDTSTART;TZID=Europe/Berlin:20260112T180000\nDURATION:PT12H\nRRULE:FREQ=WEEKLY;BYDAY=MO,WE,FR;UNTIL=20260123T170000Z\nEXDATE;TZID=Europe/Berlin:20260114T180000",
			"UID:1\nSUMMARY:jo\nRECURRENCE-ID;TZID=Europe/Berlin:20260116T180000\nDTSTART;TZID=Europe/Berlin:20260116T200000\nDURATION:PT12H",
			"UID:1\nSUMMARY:mo\nSTATUS:CANCELLED\nRECURRENCE-ID:20260119T170000Z\nDTSTART;TZID=Europe/Berlin:20260119T180000\nDURATION:PT12H"},
			"2026-01-10T00:00:00Z", "2026-02-01T00:00:00Z", []string{"12 17:00 13 05:00 mo", "16 19:00 17 07:00 jo", "21 17:00 22 05:00 mo", "23 17:00 24 05:00 mo"}},
		{"EXDATE by date, RDATE, COUNT", []string{
			"UID:1\nSUMMARY:mo\nDTSTART;TZID=Europe/Berlin:20260112T080000\nDURATION:PT1H\nRRULE:FREQ=DAILY;COUNT=3\nEXDATE;VALUE=DATE:20260113\nRDATE;TZID=Europe/Berlin:20260120T080000,20260121T080000"},
			"2026-01-10T00:00:00Z", "2026-02-01T00:00:00Z", []string{"12 07:00 12 08:00 mo", "14 07:00 14 08:00 mo", "20 07:00 20 08:00 mo", "21 07:00 21 08:00 mo"}},
		{"UNTIL as a date includes its day", []string{"UID:1\nSUMMARY:mo\nDTSTART;TZID=Europe/Berlin:20260112T080000\nDURATION:PT1H\nRRULE:FREQ=DAILY;UNTIL=20260113"},
			"2026-01-10T00:00:00Z", "2026-02-01T00:00:00Z", []string{"12 07:00 12 08:00 mo", "13 07:00 13 08:00 mo"}},
		{"a cancelled series is gone, with what was moved", []string{
			"UID:1\nSUMMARY:mo\nSTATUS:CANCELLED\nDTSTART;TZID=Europe/Berlin:20260112T080000\nDURATION:PT1H\nRRULE:FREQ=DAILY",
			"UID:1\nSUMMARY:jo\nRECURRENCE-ID;TZID=Europe/Berlin:20260113T080000\nDTSTART;TZID=Europe/Berlin:20260113T100000\nDURATION:PT1H"},
			"2026-01-10T00:00:00Z", "2026-02-01T00:00:00Z", nil},
		{"the higher SEQUENCE counts", []string{
			"UID:1\nSEQUENCE:2\nSUMMARY:jo\nDTSTART:20260112T080000Z\nDURATION:PT1H",
			"UID:1\nSEQUENCE:1\nSUMMARY:mo\nDTSTART:20260112T080000Z\nDURATION:PT1H"},
			"2026-01-10T00:00:00Z", "2026-02-01T00:00:00Z", []string{"12 08:00 12 09:00 jo"}},
		{"a swap laid over a week", []string{
			"UID:1\nSUMMARY:mo\nDTSTART:20260112T080000Z\nDURATION:P1W",
			"UID:2\nSUMMARY:jo\nDTSTART:20260114T080000Z\nDURATION:P1D"},
			"2026-01-12T00:00:00Z", "2026-01-20T00:00:00Z", []string{"12 08:00 14 08:00 mo", "14 08:00 15 08:00 jo", "15 08:00 19 08:00 mo"}},
		{"a shift change in the hour shown twice is at the first", []string{
			"UID:1\nSUMMARY:mo\nDTSTART;TZID=Europe/Berlin:20261024T023000\nDURATION:P1D\nRRULE:FREQ=DAILY;INTERVAL=2;COUNT=2",
			"UID:2\nSUMMARY:jo\nDTSTART;TZID=Europe/Berlin:20261025T023000\nDURATION:P1D"},
			"2026-10-24T12:00:00Z", "2026-10-27T00:00:00Z", []string{"24 12:00 25 00:30 mo", "25 00:30 26 01:30 jo", "26 01:30 27 00:00 mo"}},
		{"last Friday of the month", []string{"UID:1\nSUMMARY:al\nDTSTART:20260130T080000Z\nDURATION:PT1H\nRRULE:FREQ=MONTHLY;BYDAY=-1FR"},
			"2026-02-01T00:00:00Z", "2026-04-01T00:00:00Z", []string{"27 08:00 27 09:00 al", "27 08:00 27 09:00 al"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := calendar(t, c.events...)
			var got []string
			for _, s := range r.Shifts(utc(t, c.from), utc(t, c.to)) {
				form := "02 15:04"
				if len(c.want) > 0 && strings.Count(c.want[0], " ") == 2 {
					form = "15:04"
				}
				got = append(got, s.From.UTC().Format(form)+" "+s.To.UTC().Format(form)+" "+s.Person)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
			tiles(t, r, utc(t, c.from), utc(t, c.to))
		})
	}
}

func TestCalendarNext(t *testing.T) {
	r := calendar(t,
		"UID:1\nSUMMARY:mo\nDTSTART:20260112T080000Z\nDURATION:P1W",
		"UID:2\nSUMMARY:mo\nDTSTART:20260119T080000Z\nDURATION:P1W",
		"UID:3\nSUMMARY:al\nDTSTART:20260126T080000Z\nDURATION:P1W")
	if got, _ := r.Next(utc(t, "2026-01-13T00:00:00Z")); got != "al" {
		t.Errorf("next is %q", got)
	}
	if got, ok := r.Next(utc(t, "2026-01-27T00:00:00Z")); ok {
		t.Errorf("after the last comes %q", got)
	}
}

func TestStrangersAreListed(t *testing.T) {
	c, err := reader(t).Read(vcal(
		"UID:1\nSUMMARY:Team lunch\\, all\nDTSTART:20260112T110000Z\nDURATION:PT1H",
		"UID:2\nSUMMARY:mo\nDTSTART:20260112T110000Z\nDURATION:PT1H",
		"UID:3\nSUMMARY:Team lunch\\, all\nDTSTART:20260113T110000Z\nDURATION:PT1H"))
	if err != nil {
		t.Fatal(err)
	}
	if got := c.Strangers(); !slices.Equal(got, []string{"Team lunch, all"}) {
		t.Errorf("%q", got)
	}
}

func TestCalendarIsRefusedRatherThanHalfRead(t *testing.T) {
	start := "UID:x1\nSUMMARY:mo\nDTSTART:20260112T080000Z\nDURATION:PT1H\n"
	for name, body := range map[string][]byte{
		"no calendar":              []byte("hello"),
		"a page":                   []byte("<!DOCTYPE html><html></html>"),
		"cut off within an event":  vcal(start)[:90],
		"no start":                 vcal("UID:x1\nSUMMARY:mo"),
		"no time":                  vcal("UID:x1\nDTSTART:tomorrow"),
		"unknown zone":             vcal("UID:x1\nDTSTART;TZID=W. Europe Standard Time:20260112T080000"),
		"zone outside the base":    vcal("UID:x1\nDTSTART;TZID=../../etc/passwd:20260112T080000"),
		"far past":                 vcal("UID:x1\nDTSTART:00010112T080000Z"),
		"negative length":          vcal("UID:x1\nDTSTART:20260112T080000Z\nDTEND:20260111T080000Z"),
		"years long":               vcal("UID:x1\nDTSTART:20260112T080000Z\nDTEND:20300111T080000Z"),
		"odd duration":             vcal("UID:x1\nDTSTART:20260112T080000Z\nDURATION:P1Y"),
		"every second":             vcal(start + "RRULE:FREQ=SECONDLY"),
		"hours of the day":         vcal(start + "RRULE:FREQ=DAILY;BYHOUR=1,2"),
		"never":                    vcal(start + "RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"),
		"not its own first day":    vcal(start + "RRULE:FREQ=WEEKLY;BYDAY=TU"),
		"ends before it begins":    vcal(start + "RRULE:FREQ=DAILY;UNTIL=20250101T000000Z"),
		"smuggled start":           vcal(start + "RRULE:FREQ=DAILY;DTSTART=19700101T000000Z"),
		"two rules":                vcal(start + "RRULE:FREQ=DAILY\nRRULE:FREQ=WEEKLY"),
		"EXRULE":                   vcal(start + "EXRULE:FREQ=DAILY"),
		"bad EXDATE":               vcal(start + "EXDATE:never"),
		"this and all that follow": vcal(start + "RECURRENCE-ID;RANGE=THISANDFUTURE:20260112T080000Z"),
		"too long":                 append(vcal("SUMMARY:mo"), make([]byte, 1<<20)...),
		"too many":                 vcal(slices.Repeat([]string{"DTSTART:20260112T080000Z"}, 5001)...),
		"too many dates":           vcal(start + "RDATE:" + strings.Repeat("20260113T080000Z,", 5001) + "20260114T080000Z\nEXDATE:" + strings.Repeat("20260115T080000Z,", 5000) + "20260116T080000Z"),
	} {
		if _, err := reader(t).Read(body); err == nil {
			t.Errorf("%s was taken", name)
		} else if len(err.Error()) > 300 || strings.Contains(string(body), "UID:x1") && name != "cut off within an event" && !strings.Contains(err.Error(), "x1") {
			t.Errorf("%s: %v does not name the event", name, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(vcal("UID:1\nSUMMARY:mo\nDTSTART;TZID=Europe/Berlin:20260112T180000\nDURATION:PT12H\nRRULE:FREQ=WEEKLY;BYDAY=MO,WE;COUNT=9\nEXDATE;VALUE=DATE:20260113\nRDATE:20260114T010101Z"))
	f.Add(vcal("UID:1\nSUMMARY:jo\nDTSTART;VALUE=DATE:20260101\nDTEND;VALUE=DATE:20260105\nRRULE:FREQ=MONTHLY;BYDAY=1TH;BYSETPOS=1;UNTIL=20261231"))
	f.Add([]byte("BEGIN:VCALENDAR\nBEGIN:VEVENT\nDTSTART:20260101T000000\nEND:VEVENT"))
	from, to := utc(f, "2026-01-01T00:00:00Z"), utc(f, "2026-03-01T00:00:00Z")
	f.Fuzz(func(t *testing.T, body []byte) {
		c, err := reader(t).Read(body)
		if err != nil {
			return
		}
		r, err := rota.New(rota.Terms{Zone: time.UTC, Calendar: c})
		if err != nil {
			t.Fatal(err)
		}
		tiles(t, r, from, to)
		for _, s := range r.Shifts(from, to) {
			if !slices.ContainsFunc(crew, func(p rota.Person) bool { return p.ID == s.Person }) {
				t.Fatalf("%q is on call", s.Person)
			}
		}
	})
}
