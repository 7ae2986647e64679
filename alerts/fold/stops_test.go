package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func (p *play) stop(s record.PlannedStop) []error {
	s.Heater = "H-0"
	return p.engine.Step(record.Line{At: p.now, Stop: &s}).Errors
}

func (p *play) view() fold.HeaterView { return p.engine.View().Heaters[0] }

// TestStopsComeRunAndEnd follows a planned stop from the day before to the
// word that ends it, over a restart.
func TestStopsComeRunAndEnd(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	from := p.now.Add(6 * time.Hour)
	p.stop(record.PlannedStop{From: from, For: 10 * time.Hour, By: "ann"})
	p.stop(record.PlannedStop{From: from.Add(24 * time.Hour), For: time.Hour, By: "tom"})
	v := p.view()
	if v.Stop || v.NextStop != from || v.NextUntil != from.Add(10*time.Hour) || v.NextBy != "ann" {
		t.Errorf("before it begins: %v, next %s until %s by %s", v.Stop, v.NextStop, v.NextUntil, v.NextBy)
	}
	p.restart()
	p.wait(6*time.Hour + time.Second)
	if v = p.view(); !v.Stop || v.StopUntil != from.Add(10*time.Hour) || v.NextBy != "tom" {
		t.Errorf("once it began: %v until %s, next by %q", v.Stop, v.StopUntil, v.NextBy)
	}
	p.stop(record.PlannedStop{End: true})
	if v = p.view(); v.Stop || v.NextStop != 0 {
		t.Errorf("after it was ended: %v, next %s", v.Stop, v.NextStop)
	}
}

// TestStopsOutOfReachAreRefused: too long ago, and too far ahead, by a second
// and by as much as an instant holds.
func TestStopsOutOfReachAreRefused(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Minute, "n-0")
	for from, refused := range map[reading.Instant]bool{
		p.now.Add(-record.WrittenWithin):               false,
		p.now.Add(-record.WrittenWithin - time.Second): true,
		p.now.Add(record.StopAhead):                    false,
		p.now.Add(record.StopAhead + time.Second):      true,
		-1 << 62: true,
		1 << 62:  true,
	} {
		if errs := p.stop(record.PlannedStop{From: from, For: time.Hour}); len(errs) > 0 != refused {
			t.Errorf("from %d: %v", from, errs)
		}
	}
}
