package notify_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
)

// nightShift is on call until an hour, and who comes next from then on.
type nightShift struct {
	duty
	until time.Time
}

func (n nightShift) OnCall(at time.Time) (string, bool) {
	if at.Before(n.until) {
		return "mo", true
	}
	return "jo", true
}

func (n nightShift) Next(at time.Time) (string, bool) {
	if at.Before(n.until) {
		return "jo", true
	}
	return "mo", true
}

// sleepers are the crew, of whom nobody but the last is told at night.
func sleepers() notify.Settings {
	s := crew()
	for i := range s.People[:2] {
		s.People[i].Zone = time.UTC
		s.People[i].Quiet = &notify.Window{From: 22 * time.Hour, To: 6 * time.Hour}
	}
	return s
}

// What came at night is told in the morning as it would have been by day: to
// one after the other, for the first had no time to answer.
func TestMorningKeepsTheSteps(t *testing.T) {
	eleven := time.Date(2026, 1, 12, 23, 0, 0, 0, time.UTC)
	p := notify.New(sleepers(), yard(), duty{"mo", "jo"})
	expect(t, listing(t, p.Plan(raise(alarm.FlameNotHolding, alarm.Medium, eleven))), []string{
		"23:00:00 0 state >signs", "23:00:00 0 raised >log",
		"06:00:00 0 raised mo>phones +15550101 else letters mo@example.org",
		"06:10:00 1 raised jo>letters jo@example.org",
		"06:20:00 2 raised mo>phones +15550101 else letters mo@example.org",
		"06:20:00 2 raised jo>letters jo@example.org",
		"23:20:00 2 raised al>letters al@example.org", // has no quiet hours
	})
}

// Who was told first before the night had all of it to answer: nobody who is
// told in the morning waits for longer.
func TestMorningWaitsForNobodyWhoWasTold(t *testing.T) {
	before := time.Date(2026, 1, 12, 21, 55, 0, 0, time.UTC)
	p := notify.New(sleepers(), yard(), duty{"mo", "jo"})
	expect(t, listing(t, p.Plan(raise(alarm.FlameNotHolding, alarm.Medium, before))), []string{
		"21:55:00 0 state >signs", "21:55:00 0 raised >log",
		"21:55:00 0 raised mo>phones +15550101 else letters mo@example.org",
		"06:00:00 1 raised jo>letters jo@example.org",
		"06:00:00 2 raised mo>phones +15550101 else letters mo@example.org",
		"06:00:00 2 raised jo>letters jo@example.org",
		"22:15:00 2 raised al>letters al@example.org",
	})
}

// The rota is handed over at midnight: in the morning whoever is on call by
// then is told first.
func TestMorningGoesToWhoeverIsOnCallByThen(t *testing.T) {
	eleven := time.Date(2026, 1, 12, 23, 0, 0, 0, time.UTC)
	s := sleepers()
	s.Steps = s.Steps[:2]
	p := notify.New(s, yard(), nightShift{until: eleven.Add(time.Hour)})
	expect(t, listing(t, p.Plan(raise(alarm.FlameNotHolding, alarm.Medium, eleven))), []string{
		"23:00:00 0 state >signs", "23:00:00 0 raised >log",
		"06:00:00 0 raised jo>letters jo@example.org",
		"06:10:00 1 raised mo>phones +15550101 else letters mo@example.org",
	})
	high := listing(t, p.Plan(raise(alarm.FlameNotHolding, alarm.High, eleven)))
	expect(t, high, []string{
		"23:00:00 0 state >signs", "23:00:00 0 raised >log",
		"23:00:00 0 raised mo>phones +15550101", "23:00:00 0 raised mo>letters mo@example.org",
		"23:10:00 1 raised jo>letters jo@example.org",
	})
}
