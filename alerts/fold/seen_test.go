package fold_test

import (
	"slices"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// stood gives how the heaters stood by an alarm of a kind that holds.
func (p *play) stood(k alarm.Kind) []alarm.Seen {
	for _, a := range p.engine.View().Alarms {
		if a.Kind == k && a.Active && a.Heater == "" {
			return a.Findings.Seen
		}
	}
	return nil
}

// chill lets nodes report cold air for a while, some of them a flame too.
func (p *play) chill(d time.Duration, nodes []reading.NodeID, lit ...reading.NodeID) {
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		for _, n := range nodes {
			x := p.sample(n)
			x.Temp = 3
			if !slices.Contains(lit, n) {
				x.On &^= reading.Flame
			}
			p.send(n, x)
		}
	}
}

// A cold space names its heaters with what is known of each: lit, out, out as
// planned, out of service, silent.
func TestAColdSpaceNamesItsHeaters(t *testing.T) {
	p := newPlay(t, 5)
	begun := p.now.Add(30 * time.Second)
	p.burn(time.Hour, "n-0", "n-1", "n-2", "n-3", "n-4")
	last := p.now
	p.step(record.Line{Answer: &record.Answer{Act: record.OutOfService, Heater: "H-3", By: "Kim", Role: alarm.Technician, Why: "in the shop"}})
	p.stop(record.PlannedStop{For: time.Hour, By: "Kim"})
	p.chill(40*time.Minute, []reading.NodeID{"n-0", "n-1", "n-2", "n-3"}, "n-2")
	want := []alarm.Seen{
		{Heater: "H-0", How: alarm.Planned, Since: last.Add(15 * time.Second)}, {Heater: "H-1", How: alarm.Unlit, Since: last.Add(15 * time.Second)},
		{Heater: "H-2", How: alarm.Lit, Since: begun}, {Heater: "H-3", How: alarm.TakenOut}, {Heater: "H-4", How: alarm.Silent, Since: last},
	}
	for i := range want {
		want[i].Space = "space-0"
	}
	if got := p.stood(alarm.SpaceCold); !slices.Equal(got, want) {
		t.Errorf("got\n%+v, want\n%+v", got, want)
	}
}

// Heaters that went out together are named with where they stand.
func TestStopsTogetherSayWhere(t *testing.T) {
	p := newPlay(t, 2)
	for i := range p.fleet.Heaters {
		p.fleet.Heaters[i].Thermostat, p.fleet.Heaters[i].TankL = nil, 0
	}
	p.fleet.Sites[0].Spaces = append(p.fleet.Sites[0].Spaces, p.fleet.Sites[0].Spaces[0])
	p.fleet.Sites[0].Spaces[len(p.fleet.Sites[0].Spaces)-1].ID = "store"
	p.fleet.Heaters[1].Space = "store"
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.burn(time.Hour, "n-0", "n-1")
	for range 20 {
		p.out(30*time.Second, "n-0")
		p.now = p.now.Add(-30 * time.Second)
		p.out(30*time.Second, "n-1")
	}
	got := p.stood(alarm.ShutdownUnexplained)
	if len(got) != 2 || got[0].Heater != "H-0" || got[0].Space != "space-0" || got[1].Heater != "H-1" || got[1].Space != "store" || got[1].How != alarm.Unlit {
		t.Errorf("%+v", got)
	}
}
