package fold_test

import (
	"math"
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/service"
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

// The evening before clocks go forward at midnight belongs to its day, which is
// a whole one.
func TestADayBeforeASkippedMidnightIsWhole(t *testing.T) {
	zone, err := time.LoadLocation("America/Santiago")
	if err != nil {
		t.Fatal(err)
	}
	p := newPlay(t, 1)
	p.fleet.Sites[0].Zone = zone
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.now = reading.InstantOf(time.Date(2026, 9, 4, 12, 0, 0, 0, zone))
	p.burn(72*time.Hour, "n-0")
	u := fold.Use(p.engine, 0)
	for date, want := range map[string]float64{"2026-09-05": 24, "2026-09-06": 23} {
		d, _ := service.ParseDate(date)
		if got := float64(u.Day[int(d)%len(u.Day)]); d > u.Last || math.Abs(got-want) > 0.05 {
			t.Errorf("%s, lit all day: %.2f h, want %.0f", date, got, want)
		}
	}
}
