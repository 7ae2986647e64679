package fold_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/fold"
)

// CO climbs over a limit, stands there, and climbs on: where the limit that it
// heads for is the 15-minute one, too, the rise is told before that is, and no
// more while it stands.
func TestARiseIsToldOnce(t *testing.T) {
	p := newPlay(t, 2)
	p.fleet.Sites[0].Limits, _ = exposure.Named("uk-eh40")
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	climb := func(from, to float32) {
		for i := range 40 {
			p.air(30*time.Second, from+(to-from)*float32(i)/40, 12)
		}
		p.air(time.Hour, to, 12)
	}
	climb(3, 220)
	climb(220, 300)
	if n := p.count(alarm.CORising, alarm.Unacknowledged); n != 1 {
		t.Errorf("the rise was told %d times, want once", n)
	}
	if n := p.count(alarm.COShortTerm, alarm.Unacknowledged); n != 1 {
		t.Errorf("the limit was told %d times, want once", n)
	}
}

// A rise ends with how the air stands then, by the worst sensor of the space.
func TestARiseEndsWithHowTheAirStands(t *testing.T) {
	p := newPlay(t, 2)
	for i := range 40 {
		p.air(30*time.Second, float32(3+4*i), 12)
	}
	p.air(time.Hour, 60, 12)
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.CORising && s.To == alarm.Returned && math.Abs(s.Alarm.Value-60) > 20 {
			t.Errorf("the rise ended at %.0f ppm, want about 60", s.Alarm.Value)
		}
	}
	if n := p.count(alarm.CORising, alarm.Returned); n != 1 {
		t.Errorf("one rise ended %d times", n)
	}
}

// CO that rose long ago is told of by the limits that it passed.
func TestARiseOfLongAgoIsNoNews(t *testing.T) {
	p := newPlay(t, 1)
	node := p.fleet.Heaters[0].Node
	p.burn(time.Hour, node)
	all := p.keep(5*time.Minute, node, 300)
	p.now = p.now.Add(3 * time.Hour)
	p.send(node, all...)
	if n := p.count(alarm.CORising, alarm.Returned); n != 0 {
		t.Errorf("%d rises over a limit of three hours ago", n)
	}
	if n := p.count(alarm.COCeiling, alarm.Latched); n != 1 {
		t.Errorf("the ceiling of three hours ago was written down %d times", n)
	}
}

// With a set that has no ceiling and no 15-minute limit a rise is told all the
// same, with no limit that the set does not have.
func TestARiseTowardsNoLimitOfTheSet(t *testing.T) {
	p := newPlay(t, 2)
	p.fleet.Sites[0].Limits, _ = exposure.Named("us-osha")
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	for i := range 40 {
		p.air(30*time.Second, float32(3+4*i), 12)
	}
	if n := p.count(alarm.CORising, alarm.Unacknowledged); n != 1 {
		t.Fatalf("the rise was told %d times, want once", n)
	}
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.CORising && (s.Outcome().Limit != nil || strings.Contains(s.Alarm.Text, "limit") || !strings.Contains(s.Alarm.Text, "200 ppm")) {
			t.Errorf("%v: %s", s.Outcome().Limit, s.Alarm.Text)
		}
	}
}
