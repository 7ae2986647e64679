package notify_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/notify"
)

func TestRotaOfTheSettings(t *testing.T) {
	s := crew()
	s.Rota = notify.Rota{
		Zone: time.UTC, Turns: []string{"mo", "jo"}, Begins: "2026-01-05", HandOver: 8 * time.Hour,
		Overrides: []notify.Override{{Person: "al", From: six.Add(time.Hour), To: six.Add(2 * time.Hour)}},
		Holidays:  []notify.Holiday{{Person: "mo", From: six.Add(-time.Hour), To: six}},
	}
	r, _, err := notify.NewRota(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	for after, want := range map[time.Duration]string{-2 * time.Hour: "mo", -time.Minute: "jo", 0: "mo", time.Hour: "al", 3 * time.Hour: "jo"} {
		if got, _ := r.OnCall(six.Add(after)); got != want {
			t.Errorf("after %v: %q, want %q", after, got, want)
		}
	}
}

func TestRotaOfACalendar(t *testing.T) {
	s := crew()
	s.Rota = notify.Rota{Zone: time.UTC, Calendar: "rota.ics"}
	body := strings.ReplaceAll(`BEGIN:VCALENDAR
BEGIN:VEVENT
UID:1
SUMMARY:on call
ATTENDEE:mailto:mo@example.org
DTSTART:20260112T000000Z
DURATION:P1D
END:VEVENT
BEGIN:VEVENT
UID:2
SUMMARY:nobody we know
DTSTART:20260113T000000Z
DURATION:P1D
END:VEVENT
END:VCALENDAR
`, "\n", "\r\n")
	r, strangers, err := notify.NewRota(s, []byte(body))
	if err != nil {
		t.Fatal(err)
	}
	if got, _ := r.OnCall(six); got != "mo" || len(strangers) != 1 {
		t.Errorf("%q is on call; strangers %q", got, strangers)
	}
	for _, bad := range []string{"", "<html>"} {
		if _, _, err := notify.NewRota(s, []byte(bad)); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}
