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
