package alarm

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func page(d time.Duration, heater string, n int, p Priority) Transition {
	k := Key{Kind: SupplyLost, Heater: heater}
	return Transition{At: at(d), From: Normal, To: Unacknowledged, Event: Raise,
		Alarm: Alarm{ID: id(k.stem(), n), Key: k, N: n, Priority: p}}
}

func measured(ts []Transition, from, to reading.Instant, people int) Quality {
	var m Meter
	for i := range ts {
		m.Add(&ts[i])
	}
	return m.Measure(from, to, people)
}

func TestMeasure(t *testing.T) {
	var ts []Transition
	for i := range 12 { // a flood: 12 in 5.5 minutes
		ts = append(ts, page(time.Duration(i)*30*time.Second, "H-1", i+1, Low))
	}
	for i := range 6 { // and single alarms, an hour apart
		ts = append(ts, page(time.Duration(i+1)*time.Hour, "H-2", i+1, High))
	}
	ts = append(ts, Transition{At: at(6*time.Hour + 10*time.Minute), From: Unacknowledged, To: Acknowledged,
		Event: Acknowledge, By: "x", Alarm: Alarm{ID: "H-2.supply-lost.6"}})
	q := measured(ts, zero, at(48*time.Hour), 3)
	if q.Alarms != 18 || q.PerDay != 9 || q.PerPersonDay != 3 || q.MostIn10Min != 12 {
		t.Errorf("rates: %+v", q)
	}
	if d := cmp.Diff([]Flood{{zero, at(330 * time.Second), 12}}, q.Floods); d != "" {
		t.Errorf("floods (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"H-1.supply-lost"}, q.Chattering); d != "" {
		t.Errorf("chattering (-want +got):\n%s", d)
	}
	if q.Worst[0] != (Tally{"H-1.supply-lost", 12, 12.0 / 18}) || q.ByPriority[1] != (Tally{"high", 6, 6.0 / 18}) {
		t.Errorf("tallies: %+v %+v", q.Worst, q.ByPriority)
	}
	if q.Acked != 1 || q.AckMedian != 10*time.Minute || q.Unacked != 17 {
		t.Errorf("acknowledged %d in %s, left %d", q.Acked, q.AckMedian, q.Unacked)
	}
	if len(q.Stale) != 18 {
		t.Errorf("%d stale, want 18: none ended", len(q.Stale))
	}
}

// TestEachAlarmIsCountedOnce checks that what became of the alarms adds up to
// how many there were, and that only a person's answers are timed.
func TestEachAlarmIsCountedOnce(t *testing.T) {
	answered := func(d time.Duration, n int, where string) Transition {
		x := page(d, "H-1", n, Low)
		x.From, x.To, x.Event, x.Where = Unacknowledged, Acknowledged, Acknowledge, where
		return x
	}
	again := page(2*time.Hour, "H-1", 2, Low)
	again.From = Returned
	ts := []Transition{page(0, "H-1", 1, Low), page(time.Hour, "H-1", 2, Low), again, page(3*time.Hour, "H-1", 3, Low),
		answered(4*time.Hour, 1, "page"), answered(5*time.Hour, 3, ByItself)}
	for i := range 12 {
		ts = append(ts, page(6*time.Hour, "H-"+string(rune('A'+i)), 1, Low))
	}
	q := measured(ts, zero, at(48*time.Hour), 1)
	if q.Acked != 1 || q.Itself != 1 || q.Again != 1 || q.Unacked != 13 || q.Alarms != 16 {
		t.Errorf("%d alarms: acknowledged %d, by itself %d, again %d, left %d", q.Alarms, q.Acked, q.Itself, q.Again, q.Unacked)
	}
	if q.Ack90 != 4*time.Hour {
		t.Errorf("acknowledged within %s, want the person's 4 h", q.Ack90)
	}
	if q.Rest() != 3 {
		t.Errorf("%d beyond the ten most frequent, want 3", q.Rest())
	}
}

func TestStaleEndsWithTheCondition(t *testing.T) {
	b := NewBook(Rules())
	ts := b.Observe(zero, stop(true))
	done, err := b.Answer(at(time.Hour), record.Answer{Act: record.Acknowledge, Alarm: "H-07.shutdown-unexplained.1", By: "x", Role: Safety})
	if err != nil {
		t.Fatal(err)
	}
	ts = append(append(ts, done...), b.Observe(at(3*time.Hour), stop(false))...)
	if q := measured(ts, zero, at(90*time.Hour), 1); len(q.Stale) != 0 {
		t.Errorf("an alarm of three hours is stale: %v", q.Stale)
	}
}

func TestMeasureNothing(t *testing.T) {
	q := measured(nil, zero, zero, 0)
	if q.Alarms != 0 || q.PerDay != 0 || q.FloodShare != 0 || len(q.ByPriority) != 4 {
		t.Errorf("nothing measured as %+v", q)
	}
}

func TestUsualFiguresNameTheirSource(t *testing.T) {
	for _, u := range UsualFigures() {
		if u.Source == "" || u.Unit == "" || u.Most < u.Acceptable {
			t.Errorf("%+v", u)
		}
	}
}
