package fold_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// sent is a reading and when it came.
type sent struct {
	at reading.Instant
	x  reading.Sample
}

// cycling are a node's readings every 30 s: twenty minutes lit, twenty out, so
// that an hour ago it was the other way. For ten minutes it says nothing, as
// if its buffer could still come.
func cycling(d time.Duration) (all []sent) {
	run := 0.0
	for at := benchStart; at < benchStart.Add(d); at = at.Add(30 * time.Second) {
		since := at.Sub(benchStart)
		x := reading.Sample{At: at, Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp, CO: 4, Temp: 11}
		if since%(40*time.Minute) < 20*time.Minute {
			x.On = reading.Flame
			run += 30
		}
		x.Runtime = run
		if since < 100*time.Minute || since >= 110*time.Minute {
			all = append(all, sent{at.Add(300 * time.Millisecond), x})
		}
	}
	return all
}

// told is what comes of readings: burns that ended, changes of alarms, and
// what stands at the end.
func told(t *testing.T, all []sent, restart bool) (burns []outcome.Burn, changes []alarm.Transition, hours outcome.Hours) {
	t.Helper()
	p := newPlay(t, 1)
	for _, s := range all {
		p.now = s.at
		e := p.engine.Step(record.Line{At: s.at, Pack: &reading.Pack{Node: "n-0", Samples: []reading.Sample{s.x}}})
		burns, changes = append(burns, e.Burns...), append(changes, e.Transitions...)
		if restart {
			p.restart()
		}
	}
	out := p.engine.Finish()
	return append(burns, out.Burns...), changes, out.Hours[0]
}

// setBack sets the node's clock back for half an hour, five hours after the
// start.
func setBack(all []sent, by time.Duration) []sent {
	all = slices.Clone(all)
	for i := range all {
		if since := all[i].x.At.Sub(benchStart); since >= 5*time.Hour && since < 330*time.Minute {
			all[i].x.At = all[i].x.At.Add(-by)
		}
	}
	return all
}

func first(changes []alarm.Transition, k alarm.Kind) (alarm.Transition, bool) {
	i := slices.IndexFunc(changes, func(t alarm.Transition) bool { return t.Alarm.Kind == k })
	if i < 0 {
		return alarm.Transition{}, false
	}
	return changes[i], true
}

// A clock that somebody sets back tells of an hour already told. That makes no
// burns there, and none is missed here.
func TestClockSetBackMakesNoBurns(t *testing.T) {
	all := cycling(8 * time.Hour)
	want, _, hours := told(t, all, false)
	for _, by := range []time.Duration{time.Hour, time.Hour - 13*time.Second} {
		got, changes, still := told(t, setBack(all, by), false)
		if len(got) != len(want) {
			t.Errorf("back by %v: %d burns, want %d", by, len(got), len(want))
		}
		for i := range min(len(got), len(want)) {
			if off := got[i].End.Sub(want[i].End).Abs(); off > time.Minute {
				t.Errorf("back by %v: burn %d ends at %v, want %v", by, i, got[i].End, want[i].End)
			}
		}
		if d := still.Hours - hours.Hours; d > 0.02 || d < -0.02 || still.Low > hours.Hours || still.High < hours.Hours {
			t.Errorf("back by %v: hours %+v, want %+v", by, still, hours)
		}
		if tr, ok := first(changes, alarm.NodeClock); !ok || tr.At.Sub(benchStart) > 5*time.Hour+2*time.Minute {
			t.Errorf("back by %v: the clock was told wrong at %v", by, tr.At)
		}
	}
}

// Nobody waits long for a ceiling because the clock was set back just before.
func TestCeilingWhileTheClockIsDoubted(t *testing.T) {
	all := setBack(cycling(6*time.Hour), time.Hour)
	began := benchStart.Add(5*time.Hour + 30*time.Second)
	for i := range all {
		if all[i].at > began && all[i].at < began.Add(5*time.Minute) {
			all[i].x.CO = 700
		}
	}
	_, changes, _ := told(t, all, false)
	i := slices.IndexFunc(changes, func(tr alarm.Transition) bool {
		return tr.Alarm.Kind == alarm.COCeiling && tr.To == alarm.Unacknowledged && !tr.Alarm.Late
	})
	if i < 0 || changes[i].At.Sub(began) > 90*time.Second {
		t.Errorf("told at %+v", changes)
	}
}

// A single word kept up on its way, between two that came in time, is a word
// like any other once the next comes.
func TestWordKeptUpOnItsWay(t *testing.T) {
	all := cycling(8 * time.Hour)
	event := all[len(all)/2]
	event.x.At, event.at = event.x.At.Add(12*time.Second), event.at.Add(12*time.Second)
	event.x.On ^= reading.Flame
	withIt := slices.Insert(slices.Clone(all), len(all)/2+1, event)
	event.at = event.at.Add(47 * time.Minute)
	late := append(slices.Clone(all), event)
	slices.SortStableFunc(late, func(a, b sent) int { return int(a.at - b.at) })
	want, _, hours := told(t, withIt, false)
	got, _, still := told(t, late, false)
	if a, b := written(t, want), written(t, got); a != b {
		t.Errorf("burns\n%s\nwant\n%s", b, a)
	}
	if hours != still {
		t.Errorf("hours %+v, want %+v", still, hours)
	}
}

// Whether the daemon restarts while it doubts changes nothing.
func TestRestartInDoubt(t *testing.T) {
	all := setBack(cycling(6*time.Hour), time.Hour)
	b1, c1, h1 := told(t, all, false)
	b2, c2, h2 := told(t, all, true)
	if a, b := written(t, b1, c1, h1), written(t, b2, c2, h2); a != b {
		t.Errorf("restarted\n%s\nwant\n%s", b, a)
	}
}

func written(t *testing.T, what ...any) string {
	t.Helper()
	b, err := json.Marshal(what)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestOldCopiesBurnNothing: what the node had told comes once more, two hours
// old, while the node itself is dark. That is no clock set back.
func TestOldCopiesBurnNothing(t *testing.T) {
	all := cycling(4 * time.Hour)
	copies := slices.Clone(all)
	for _, s := range all[len(all)-240:] {
		copies = append(copies, sent{s.at.Add(2*time.Hour + 10*time.Second), s.x})
	}
	_, _, want := told(t, all, false)
	_, _, got := told(t, copies, false)
	if got.Low > want.Hours+0.01 || got.High < want.Hours-0.01 || got.Burns != want.Burns {
		t.Errorf("got %.3f to %.3f h in %d burns, want %.3f h in %d", got.Low, got.High, got.Burns, want.Hours, want.Burns)
	}
}

// A unit that loses its counter and its clock at once, as one without a battery
// does when its supply fails, is heard as before: what it says is of now.
func TestUnitThatLostCounterAndClock(t *testing.T) {
	all := cycling(4 * time.Hour)
	lost := all[len(all)/2]
	for i := range all[len(all)/2:] {
		s := &all[len(all)/2+i]
		s.x.At = s.x.At.Add(-40 * 365 * 24 * time.Hour)
		s.x.Runtime -= lost.x.Runtime
		s.x.CO = 700
	}
	burns, changes, _ := told(t, all, false)
	tr, ok := first(changes, alarm.COCeiling)
	if !ok || tr.At.Sub(lost.at) > time.Minute || tr.Alarm.Late {
		t.Errorf("at the ceiling from %v, told %+v", lost.at, tr)
	}
	for _, b := range burns {
		if b.Start < benchStart {
			t.Errorf("a burn of long before: %+v", b)
		}
	}
}

// A single reading of long before anything can be kept is put nowhere.
func TestReadingOfLongAgo(t *testing.T) {
	all := cycling(3 * time.Hour)
	want, _, hours := told(t, all, false)
	old := all[0]
	old.x.At = old.x.At.Add(-100 * 24 * time.Hour)
	p := newPlay(t, 1)
	var got []outcome.Burn
	for i, s := range all {
		pack := &reading.Pack{Node: "n-0", Samples: []reading.Sample{s.x}}
		if i == 0 {
			pack.Samples = []reading.Sample{old.x, s.x}
		}
		got = append(got, p.engine.Step(record.Line{At: s.at, Pack: pack}).Burns...)
	}
	out := p.engine.Finish()
	if a, b := written(t, want), written(t, append(got, out.Burns...)); a != b || out.Hours[0] != hours {
		t.Errorf("burns %s and hours %+v, want %s and %+v", b, out.Hours[0], a, hours)
	}
}
