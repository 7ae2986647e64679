package service

import (
	"testing"
	"time"

	"heaterd/ingest/reading"
)

// A day of which only the last hours were seen leaves the forecast where it
// was before anything was seen.
func TestAPartOfADayTellsNoUse(t *testing.T) {
	now := reading.InstantOf(time.Date(2026, 1, 13, 20, 0, 0, 0, time.UTC))
	facts := Facts{Now: now, Zone: time.UTC, Today: 12}
	day := func(u Use, c chance) Date { o := newOutlook(&u, facts); return o.day(25, c) }
	var part Use
	part.Partly(DateOf(now, time.UTC) - 1)
	part.Add(DateOf(now, time.UTC)-1, 0.2)
	for _, c := range []chance{earlyEnd, middle, lateEnd} {
		if got, want := day(part, c), day(Use{}, c); got != want {
			t.Errorf("end %d: %v, want %v", c, got, want)
		}
	}
	if h := part.in(30, DateOf(now, time.UTC)); h < 0.19 {
		t.Errorf("%.2f h in 30 days: its hours count", h)
	}
}
