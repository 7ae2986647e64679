package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
)

// Where nodes may keep readings for a month, CO of a fortnight ago is no CO of
// now, and the clock that stamped it is right.
func TestABacklogAsLongAsTheConfigurationAllows(t *testing.T) {
	p := newPlay(t, 1)
	rules := fold.DefaultRules()
	rules.Backlog = 30 * 24 * time.Hour
	p.engine = fold.New(p.fleet, rules)
	node := p.fleet.Heaters[0].Node
	p.burn(time.Hour, node)
	all := p.keep(10*time.Minute, node, 300)
	p.now = p.now.Add(15 * 24 * time.Hour)
	p.send(node, all...)
	p.burn(30*time.Minute, node)
	if n := p.count(alarm.COCeiling, alarm.Unacknowledged); n != 0 {
		t.Errorf("300 ppm of a fortnight ago called somebody %d times", n)
	}
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("300 ppm of a fortnight ago was written down %d times, want once", n)
	}
	if n := p.count(alarm.NodeClock, alarm.Unacknowledged); n != 0 {
		t.Errorf("the clock was called wrong %d times", n)
	}
}
