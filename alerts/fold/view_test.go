package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
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

// The space is as bad as its worst sensor in each figure: one that read much for
// hours hides none that reads much now.
func TestASpaceShowsTheWorstOfItsSensors(t *testing.T) {
	p := newPlay(t, 2)
	p.air(8*time.Hour, 30, 3)
	p.air(30*time.Minute, 3, 3)
	for ppm := float32(4); ppm < 160; ppm += 4 {
		p.air(30*time.Second, 3, ppm)
	}
	s := p.engine.View().Sites[0].Spaces[0]
	if s.Air.TWA8hPPM < 26 {
		t.Errorf("%.1f ppm over 8 h, want that of the first sensor, about 27", s.Air.TWA8hPPM)
	}
	if s.Air.TWA15PPM < 90 {
		t.Errorf("%.1f ppm over 15 min, want that of the second sensor, about 100", s.Air.TWA15PPM)
	}
	if u := s.Forecast.Ceiling; !u.OK || u.Minutes > 15 {
		t.Errorf("the ceiling in %+v, want it within minutes", u)
	}
}

// What the unit that left had told is no word of the one that was just fitted.
func TestASpaceIsNotHeardWhileItsUnitIsNot(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	if !p.engine.View().Sites[0].Spaces[0].COHeard {
		t.Fatal("the space is not heard, though its unit tells of CO")
	}
	p.write(record.Entry{Task: "fit-node", Node: "n-1"}, 0)
	if s := p.engine.View().Sites[0].Spaces[0]; s.COHeard || s.TempHeard {
		t.Errorf("a unit of which nothing came: CO heard %v, temperature heard %v", s.COHeard, s.TempHeard)
	}
	p.burn(time.Minute, "n-1")
	if !p.engine.View().Sites[0].Spaces[0].COHeard {
		t.Error("the space is not heard, though the unit that was fitted tells of CO")
	}
}
