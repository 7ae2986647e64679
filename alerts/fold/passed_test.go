package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// A buffer brings many burns in one pack. The record has each of them at once,
// long before the last of them is final, also where something newer came first
// and where samples are missing before them.
func TestEveryBurnOfABufferIsJudged(t *testing.T) {
	for name, newer := range map[string]bool{"in order": false, "behind what came since": true} {
		t.Run(name, func(t *testing.T) {
			p := failing(t)
			p.burn(time.Hour, "n-0")
			p.now = p.now.Add(2 * time.Hour) // nobody will ever hear of them
			var kept []reading.Sample
			want := map[reading.Instant]bool{}
			for range 4 {
				for i := range 90 {
					p.now = p.now.Add(30 * time.Second)
					x := p.sample("n-0")
					if i >= 60 {
						x.On = 0
					} else {
						p.run["n-0"] += 30
						x.Runtime = p.run["n-0"]
					}
					kept = append(kept, x)
				}
				want[p.now.Add(15*time.Second-15*time.Minute)] = true
			}
			p.now = p.now.Add(time.Minute)
			x := p.sample("n-0")
			x.On = 0
			var packs [][]reading.Sample
			if packs = [][]reading.Sample{kept, {x}}; newer {
				packs = [][]reading.Sample{{x}, kept}
			}
			got := map[reading.Instant]bool{}
			for _, xs := range append(packs, nil, nil, nil, nil) {
				l := record.Line{At: p.now, Pack: &reading.Pack{Node: "n-0", Samples: xs}}
				if xs == nil {
					l.Pack = nil
				}
				for _, b := range p.engine.Step(l).Judged {
					got[b.End] = true
				}
				p.now = p.now.Add(time.Minute)
			}
			for end := range want {
				if !got[end] {
					t.Errorf("the burn that ended at %s is not in the record: %v", end, got)
				}
			}
		})
	}
}

// Burns that are made anew, because something came behind them, forget none of
// those that were judged since.
func TestAStragglerForgetsNoStop(t *testing.T) {
	p := failing(t)
	p.burn(time.Hour, "n-0")
	p.out(5*time.Minute, "n-0")
	p.burn(90*time.Second, "n-0")
	p.out(2*time.Minute, "n-0")
	late := p.sample("n-0")
	late.At, late.On = p.now.Add(10*time.Second-210*time.Second), 0
	p.burn(90*time.Second, "n-0")
	p.out(2*time.Minute, "n-0")
	p.send("n-0", late)
	p.burn(90*time.Second, "n-0")
	p.out(2*time.Minute, "n-0")
	if !p.active(alarm.FlameNotHolding) {
		t.Error("three short burns in a row are not told")
	}
}
