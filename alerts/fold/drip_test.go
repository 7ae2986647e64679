package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// A unit that was out for an hour sends what it kept one by one, as fast as it
// goes on measuring: all of it is an hour old and calls nobody, so that it is as
// silent as before, until it has caught up.
func TestWhatASilentUnitKeptEndsNoSilence(t *testing.T) {
	p := newPlay(t, 1)
	node := p.fleet.Heaters[0].Node
	p.burn(30*time.Minute, node)
	all := p.keep(2*time.Hour, node, 6)
	next := func(n int) {
		for range n {
			p.send(node, all[0])
			all = all[1:]
		}
	}
	for range 120 {
		p.now = p.now.Add(30 * time.Second)
		p.run[node] += 30
		all = append(all, p.sample(node))
		next(1)
	}
	if n := p.count(alarm.NodeSilent, alarm.Returned); n != 0 {
		t.Errorf("two hours late, the silence ended %d times", n)
	}
	next(len(all))
	p.burn(5*time.Minute, node)
	if n := p.count(alarm.NodeSilent, alarm.Returned); n != 1 {
		t.Errorf("up to now again, the silence ended %d times, want once", n)
	}
}
