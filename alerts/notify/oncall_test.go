package notify_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/notify"
)

// onCall is what the rota of a crew comes to at six, as lines.
func onCall(t *testing.T, r notify.Rota) (o notify.OnCall, lines []string) {
	t.Helper()
	s := crew()
	s.Rota = r
	made, _, err := notify.NewRota(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	o = notify.New(s, yard(), made).OnCall(six)
	for _, turn := range o.Turns {
		end := turn.To.Format("2 Jan 15:04")
		if turn.Open {
			end = "open"
		}
		lines = append(lines, fmt.Sprintf("%s until %s", turn.Name, end))
	}
	for _, step := range o.Steps {
		lines = append(lines, fmt.Sprintf("%v %s: %s", step.After, step.Who, strings.Join(step.Names, ", ")))
	}
	return o, lines
}

func TestWhoIsOnCall(t *testing.T) {
	turns := notify.Rota{Zone: time.UTC, Turns: []string{"mo", "jo"}, Begins: "2026-01-05", HandOver: 8 * time.Hour}
	away := turns
	away.Holidays = []notify.Holiday{
		{Person: "mo", From: six.Add(-time.Hour), To: six.Add(4 * time.Hour)}, {Person: "jo", From: six.Add(-time.Hour), To: six.Add(3 * time.Hour)},
	}
	alone := turns
	alone.Turns = []string{"jo"}
	for _, c := range []struct {
		name string
		rota notify.Rota
		want []string
	}{
		{"turns", turns, []string{
			"Mo until 12 Jan 08:00", "Jo until 19 Jan 08:00", "Mo until 26 Jan 08:00", "Jo until open",
			"0s on-call: Mo", "10m0s next: Jo", "20m0s everyone: Mo, Jo, Al",
		}},
		{"all away", away, []string{
			" until 12 Jan 09:00", "Jo until 19 Jan 08:00", "Mo until 26 Jan 08:00", "Jo until open",
			"0s on-call: Al", "10m0s next: Al", "20m0s everyone: Mo, Jo, Al",
		}},
		{"one takes every turn", alone, []string{"Jo until open", "0s on-call: Jo", "10m0s next: Al", "20m0s everyone: Mo, Jo, Al"}},
	} {
		if _, got := onCall(t, c.rota); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

func TestACalendarThatCannotBeReadLeavesTheFallback(t *testing.T) {
	s := crew()
	s.Rota = notify.Rota{Zone: time.UTC, Calendar: "rota.ics"}
	o := notify.New(s, yard(), nil).OnCall(six)
	if !o.Rota || !o.Unread || len(o.Turns) > 0 || o.Fallback != "Al" || o.Steps[0].Names[0] != "Al" {
		t.Errorf("%+v", o)
	}
}

func TestWithoutPeopleNobodyIsTold(t *testing.T) {
	if o := notify.New(notify.Settings{}, yard(), nil).OnCall(six); o.Told || o.Rota || o.Unread {
		t.Errorf("%+v", o)
	}
}
