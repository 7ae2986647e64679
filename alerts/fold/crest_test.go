package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// shortTerm is one heater at a site whose limit is an average of 15 minutes,
// after an hour of good air.
func shortTerm(t *testing.T) (p *play, node reading.NodeID) {
	p = newPlay(t, 1)
	l := &p.fleet.Sites[0].Limits
	l.CeilingPPM, l.ShortTermPPM = 0, 30
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	node = p.fleet.Heaters[0].Node
	p.burn(time.Hour, node)
	return p, node
}

// badThenGood is what a unit keeps of bad air and of good air after it.
func (p *play) badThenGood(node reading.NodeID, bad, good time.Duration) []reading.Sample {
	return append(p.keep(bad, node, 150), p.keep(good, node, 3)...)
}

// An average that was over its limit within one delivery, and is not any more
// at its end, is an alarm as it would have been reading by reading.
func TestAnAverageOverItsLimitWithinAPack(t *testing.T) {
	for _, c := range []struct {
		name           string
		bad, good, ago time.Duration
		paged, written int
	}{
		{"in time", 7 * time.Minute, 9 * time.Minute, 0, 1, 0},
		{"late", 7 * time.Minute, 3 * time.Hour, 0, 0, 1},
		{"late, behind what came since", 7 * time.Minute, 3 * time.Hour, 20 * time.Minute, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, node := shortTerm(t)
			all := p.badThenGood(node, c.bad, c.good)
			if c.ago > 0 {
				p.burn(c.ago, node)
			}
			p.send(node, all...)
			p.burn(time.Hour, node)
			var paged, written int
			for _, c := range p.said {
				if c.Alarm.Kind == alarm.COShortTerm && c.Pages() {
					paged++
				}
				if c.Alarm.Kind == alarm.COShortTerm && c.To == alarm.Latched && c.Alarm.Late {
					written++
				}
			}
			if paged != c.paged || written != c.written {
				t.Errorf("told %d times, written down late %d times; want %d and %d", paged, written, c.paged, c.written)
			}
		})
	}
}

// What people were told of, and somebody reset, is not told of again because a
// reading of that time comes behind later ones. It waits for what the unit may
// have kept while it was silent, so all of it is gone through once more.
func TestAnAverageThatWasToldIsNotToldAgain(t *testing.T) {
	p, node := shortTerm(t)
	p.wait(time.Hour)
	p.burn(20*time.Minute, node)
	late := p.sample(node)
	late.At, late.CO = p.now.Add(3*time.Minute+15*time.Second), 150
	for i := range 2 * 60 {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample(node)
		if i < 2*4 {
			x.CO = 150
		}
		p.send(node, x)
	}
	for _, act := range []record.Act{record.Acknowledge, record.Reset} {
		p.step(record.Line{Answer: &record.Answer{Act: act, Alarm: "site-0.space-0.co-short-term.1", By: "mara", Role: alarm.Safety, Why: "aired"}})
	}
	p.send(node, late)
	p.burn(5*time.Minute, node)
	if raised, reset := p.count(alarm.COShortTerm, alarm.Unacknowledged), p.count(alarm.COShortTerm, alarm.Normal); raised != 1 || reset != 1 {
		t.Errorf("told %d times, reset %d times; want once each", raised, reset)
	}
	if n := p.count(alarm.COShortTerm, alarm.Latched); n != 2 {
		t.Errorf("went back to normal air %d times, want before and after it was acknowledged", n)
	}
}

// After a night without a word the record says no more than the alarms do: what
// the first reading of the morning is says nothing of the evening.
func TestARecordOverItsFigureWasTold(t *testing.T) {
	for _, hours := range []int{7, 13} {
		p := newPlay(t, 2)
		p.fleet.Sites[0].Limits.ShiftPPM = 35
		p.engine = fold.New(p.fleet, fold.DefaultRules())
		p.air(time.Hour, 5, 5)
		p.now = p.now.Add(time.Duration(hours) * time.Hour)
		p.air(5*time.Minute, 60, 60)
		p.air(time.Hour, 5, 5)
		told := p.count(alarm.COShift, alarm.Unacknowledged)
		if over := p.engine.Finish().Exposures[0].TWA8hPPM >= 35; over != (told == 1) || over != (hours == 7) {
			t.Errorf("%d h of silence: over %v, told %d times", hours, over, told)
		}
	}
}

// What a unit read last stands up to when it is taken off, and is told.
func TestAUnitIsTakenOffInBadAir(t *testing.T) {
	p := newPlay(t, 2)
	p.fleet.Sites[0].Limits.ShortTermPPM = 100
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	for i := range 14 {
		p.now = p.now.Add(5 * time.Minute)
		x := p.sample("n-0")
		if x.CO = 5; i >= 12 {
			x.CO = 180
		}
		p.send("n-0", x)
	}
	before := p.count(alarm.COShortTerm, alarm.Unacknowledged)
	p.now = p.now.Add(270 * time.Second)
	p.step(record.Line{Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "n-0"}})
	p.wait(2 * time.Hour)
	told := p.count(alarm.COShortTerm, alarm.Unacknowledged)
	if over := p.engine.Finish().Exposures[0].TWA15PPM; over < 100 || before != 0 || told != 1 {
		t.Errorf("%.0f ppm by the record, told %d times before and %d after", over, before, told)
	}
}
