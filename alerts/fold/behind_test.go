package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
)

// Air over an average's limit is told in time by a unit whose clock is behind,
// though that is not proven yet; what one had kept and sends at once calls nobody.
func TestAnAverageByAClockThatIsBehind(t *testing.T) {
	p := newPlay(t, 1)
	p.fleet.Sites[0].Limits.ShortTermPPM = 100
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	from := p.now
	for p.count(alarm.COShortTerm, alarm.Unacknowledged) == 0 && p.now.Sub(from) < time.Hour {
		p.now = p.now.Add(30 * time.Second)
		x := p.sample("n-0")
		x.At, x.CO = p.now.Add(-3*time.Hour), 160
		p.send("n-0", x)
	}
	if took := p.now.Sub(from); took > 11*time.Minute {
		t.Errorf("told after %v of 160 ppm", took)
	}

	p = newPlay(t, 1)
	p.fleet.Sites[0].Limits.ShortTermPPM = 100
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	kept := p.now
	p.now = p.now.Add(3 * time.Hour)
	for i := range 60 {
		p.now = p.now.Add(2 * time.Second)
		x := p.sample("n-0")
		x.At, x.CO = kept.Add(time.Duration(i)*30*time.Second), 160
		p.send("n-0", x)
	}
	if n := p.count(alarm.COShortTerm, alarm.Unacknowledged); n != 0 {
		t.Errorf("a backlog called somebody %d times", n)
	}
}
