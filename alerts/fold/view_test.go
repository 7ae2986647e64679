package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
)

// out lets a node report every 30 s for a while that its flame is out.
func (p *play) out(d time.Duration, n reading.NodeID) {
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample(n)
		x.On &^= reading.Flame
		p.send(n, x)
	}
}

// TestTheViewCarriesTheTrend puts out a heater that nobody switched off, and
// that fuel or a thermostat cannot explain, again and again.
func TestTheViewCarriesTheTrend(t *testing.T) {
	p := newPlay(t, 1)
	p.fleet.Heaters[0].Thermostat, p.fleet.Heaters[0].TankL = nil, 0
	rules := fold.DefaultRules()
	rules.Backlog = 0 // endings are final at once
	p.engine = fold.New(p.fleet, rules)
	node := p.fleet.Heaters[0].Node
	for i := range 5 {
		p.burn(time.Duration(6-i)*time.Hour, node)
		p.out(3*time.Hour, node)
		if got := p.engine.View().Heaters[0].Trend; (got != nil) != (i >= 3) {
			t.Fatalf("after %d endings the trend is %+v", i+1, got)
		}
	}
	v := p.engine.View()
	got := v.Heaters[0].Trend
	if got.Endings != 5 || got.MTBFLowH >= got.MTBFH || got.MTBFHiH <= got.MTBFH || got.Verdict == "" {
		t.Errorf("the trend of five endings is %+v", got)
	}
	if v.Begin == 0 || v.Begin > v.At {
		t.Errorf("the record begins at %s, seen at %s", v.Begin, v.At)
	}
}

// TestTheViewTellsHowFarABurnWasSeen lets a lit heater fall silent: what it did
// since nobody knows.
func TestTheViewTellsHowFarABurnWasSeen(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	seen := p.now
	p.wait(3 * time.Hour)
	if h := p.engine.View().Heaters[0]; !h.Lit || h.LitSeen != seen || !h.Silent {
		t.Errorf("lit %v until %s, silent %v; want until %s", h.Lit, h.LitSeen, h.Silent, seen)
	}
}
