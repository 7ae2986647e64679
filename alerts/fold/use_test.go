package fold_test

import (
	"testing"
	"time"

	"heaterd/ingest/reading"
)

// What a heater that is first heard late in the evening burns until midnight
// is no day's use: it would put off for months what is due in days.
func TestThePartOfADayIsNoDay(t *testing.T) {
	p := newPlay(t, 1)
	p.now = reading.InstantOf(time.Date(2026, 1, 12, 22, 0, 0, 0, time.UTC))
	p.burn(10*time.Minute, "n-0")
	p.idle(110*time.Minute, "n-0")
	p.burn(12*time.Hour, "n-0")
	for _, s := range p.engine.View().Heaters[0].Standings {
		if s.HoursLeft == nil {
			continue
		}
		if s.DueOn == nil {
			t.Fatalf("%s: %.0f h left are never due", s.Task, *s.HoursLeft)
		}
		today := p.now.Time().Unix() / 86400
		if days, left := int64(*s.DueOn)-today, *s.HoursLeft; float64(days) > left/5 {
			t.Errorf("%s: %.0f h left are due in %d days", s.Task, left, days)
		}
		return
	}
	t.Error("no task goes by hours")
}
