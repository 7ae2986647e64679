package fold_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// every lets a node report n times, so far apart, with time passing between.
func (p *play) every(d time.Duration, n int) {
	for range n {
		for range int(d / (30 * time.Second)) {
			p.wait(30 * time.Second)
		}
		p.run["n-0"] += d.Seconds()
		p.send("n-0", p.sample("n-0"))
	}
}

// A node heard once so far is waited for as long as one that reports every
// quarter of an hour takes; one that promised when it will speak again is not.
func TestANodeHeardOnce(t *testing.T) {
	for _, x := range []struct{ promised, told time.Duration }{
		{0, 16*time.Minute + 30*time.Second},
		{time.Minute, 6*time.Minute + 30*time.Second},
	} {
		p := newPlay(t, 1)
		p.step(record.Line{Pack: &reading.Pack{Node: "n-0", Within: x.promised, Samples: []reading.Sample{p.sample("n-0")}}})
		quiet := time.Duration(0)
		for ; p.count(alarm.NodeSilent, alarm.Unacknowledged) == 0 && quiet < time.Hour; quiet += 30 * time.Second {
			p.wait(30 * time.Second)
		}
		if quiet != x.told {
			t.Errorf("promised %v: told silent after %v, want %v", x.promised, quiet, x.told)
		}
	}
}

// A node that sends more seldom than every quarter of an hour, and promises
// nothing, is told silent but once before it is known; one that sends often, and falls silent, as soon as ever.
func TestANodeThatSendsSeldom(t *testing.T) {
	for _, x := range []struct {
		every time.Duration
		words int
		rings int // before it falls silent
		told  time.Duration
	}{
		{30 * time.Second, 1, 0, 6*time.Minute + 30*time.Second},
		{30 * time.Second, 2, 0, 6*time.Minute + 30*time.Second},
		{30 * time.Second, 9, 0, 5*time.Minute + 30*time.Second},
		{2 * time.Minute, 9, 0, 6*time.Minute + 30*time.Second},
		{10 * time.Minute, 9, 0, 30*time.Minute + 30*time.Second},
		{15 * time.Minute, 9, 0, 45*time.Minute + 30*time.Second},
		{25 * time.Minute, 9, 1, 75*time.Minute + 30*time.Second},
		{time.Hour, 9, 1, 3*time.Hour + 30*time.Second},
	} {
		p := newPlay(t, 1)
		p.send("n-0", p.sample("n-0"))
		p.every(x.every, x.words)
		rings := p.count(alarm.NodeSilent, alarm.Unacknowledged)
		if rings != x.rings {
			t.Errorf("every %v: told silent %d times, want %d", x.every, rings, x.rings)
		}
		quiet := time.Duration(0)
		for ; p.count(alarm.NodeSilent, alarm.Unacknowledged) == rings && quiet < 12*time.Hour; quiet += 30 * time.Second {
			p.wait(30 * time.Second)
		}
		if quiet > x.told {
			t.Errorf("every %v, %d words: told silent after %v, want within %v", x.every, x.words, quiet, x.told)
		}
	}
}
