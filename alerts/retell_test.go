package alerts_test

import (
	"context"
	"testing"
	"time"

	"heaterd/alerts"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// written is an archive of what people wrote down.
type written []record.Line

func (w written) Lines(_ context.Context, after int64, _ int) ([]record.Line, error) {
	for i, l := range w {
		if l.ID > after {
			return w[i:], nil
		}
	}
	return nil, nil
}

func (written) Samples(context.Context, reading.NodeID, reading.Instant, reading.Instant, func(reading.Sample) bool) error {
	return nil
}

// TestRetellKnowsTheStopsThatRun: what was written down before the stretch, and
// is not over when it begins, is told at its beginning.
func TestRetellKnowsTheStopsThatRun(t *testing.T) {
	from := reading.Instant(1_768_197_600_000_000)
	stop := func(id int64, before time.Duration, s record.PlannedStop) record.Line {
		return record.Line{ID: id, At: from.Add(-before), Stop: &s}
	}
	archive := written{
		stop(1, 20*24*time.Hour, record.PlannedStop{Heater: "long", For: 21 * 24 * time.Hour}),
		stop(2, 5*time.Hour, record.PlannedStop{Heater: "over", For: time.Hour}),
		stop(3, 4*time.Hour, record.PlannedStop{Heater: "runs", For: 6 * time.Hour}),
		stop(4, 3*time.Hour, record.PlannedStop{Heater: "ended", For: 6 * time.Hour}),
		stop(5, 2*time.Hour, record.PlannedStop{Heater: "ahead", From: from.Add(time.Hour), For: time.Hour}),
		stop(6, 40*24*time.Hour, record.PlannedStop{Heater: "refused", From: from.Add(time.Hour), For: time.Hour}),
		stop(7, time.Hour, record.PlannedStop{Heater: "ended", End: true}),
		stop(8, -time.Minute, record.PlannedStop{Heater: "within", For: time.Hour}),
	}
	want := map[string][2]reading.Instant{
		"long": {from.Add(-record.WrittenWithin), from.Add(24 * time.Hour)}, "runs": {from.Add(-4 * time.Hour), from.Add(2 * time.Hour)},
		"ahead": {from.Add(time.Hour), from.Add(2 * time.Hour)}, "within": {from.Add(time.Minute), from.Add(61 * time.Minute)},
	}
	got := map[string][2]reading.Instant{}
	err := alerts.Retell(t.Context(), archive, nil, from, from.Add(2*time.Hour), func(l record.Line) {
		if l.Stop == nil {
			return
		}
		if err := l.Stop.Check(l.At); err != nil || l.At < from {
			t.Errorf("%s at %s: %v", l.Stop.Heater, l.At, err)
		}
		begins := l.Stop.Begins(l.At)
		got[l.Stop.Heater] = [2]reading.Instant{begins, begins.Add(l.Stop.For)}
	})
	if err != nil {
		t.Fatal(err)
	}
	for h, w := range want {
		if got[h] != w {
			t.Errorf("%s: %v, want %v", h, got[h], w)
		}
	}
	if len(got) != len(want) {
		t.Errorf("told %v", got)
	}
}
