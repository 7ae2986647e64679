package fold_test

import (
	"fmt"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

const wentOut, litAgain = 2 * time.Hour, 3 * time.Hour

// three are readings of three heaters: the first is out for an hour and gets
// cold, the second goes out for good just before that is over, the third just
// after.
func (p *play) three(i int, d time.Duration) record.Line {
	node := reading.NodeID(fmt.Sprintf("n-%d", i))
	x := p.sample(node)
	x.Has, x.Temp = reading.Flame|reading.Temp, 11.5
	switch {
	case i == 0 && d > wentOut && d < litAgain:
		x.On, x.Temp = 0, 11.5-5.5*float32(d-wentOut)/float32(litAgain-wentOut)
	case i == 1 && d > litAgain-time.Minute, i == 2 && d > litAgain:
		x.On = 0
	}
	if i == 1 {
		x.Temp = 6
	}
	return record.Line{At: p.now, Pack: &reading.Pack{Node: node, Samples: []reading.Sample{x}}}
}

// firstEnding gives why the first of them went out, as told for good, where
// the third is cut off for so long.
func firstEnding(t *testing.T, cut time.Duration) (why outcome.Ending) {
	p := newPlay(t, 3)
	var burns []outcome.Burn
	var kept [3][]record.Line // by heater, not delivered yet
	for d := time.Duration(0); d <= 60*time.Hour; d += 30 * time.Second {
		p.now = benchStart.Add(d)
		for i := range 3 {
			kept[i] = append(kept[i], p.three(i, d))
			if i == 2 && d > litAgain && d <= litAgain+cut {
				continue
			}
			for _, l := range kept[i] {
				l.At = p.now
				burns = append(burns, p.engine.Step(l).Burns...)
			}
			kept[i] = kept[i][:0]
		}
	}
	for _, b := range append(burns, p.engine.Finish().Burns...) {
		if b.Heater == "H-0" {
			return b.Ending
		}
	}
	return ""
}

// Whether a third heater burned on just after another one went out decides
// what kept the first one off. What it kept while it was cut off tells the same.
func TestWhetherAThirdBurnedOnWaitsForItsWord(t *testing.T) {
	if a, b := firstEnding(t, 0), firstEnding(t, 54*time.Hour); a != b || a == "" {
		t.Errorf("%q where it came at once, %q where it came late", a, b)
	}
}
