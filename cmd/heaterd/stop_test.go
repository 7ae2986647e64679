package main

import (
	"syscall"
	"testing"
	"time"

	"heaterd/ingest/mqtt/mqtttest"
)

// stopLimit is how long an orderly stop may take; the README promises it.
const stopLimit = 10 * time.Second

// occasion is something a daemon is busy with when it is told to stop.
type occasion struct {
	name string
	long time.Duration // how long it may be let at it
	of   func(*ground, *process)
}

var occasions = []occasion{
	{"starting", 60 * time.Millisecond, func(*ground, *process) {}},
	{"tidying", 60 * time.Millisecond, func(_ *ground, p *process) { p.says(`msg="heaterd runs"`, 1) }},
	{"taking in", 100 * time.Millisecond, func(_ *ground, p *process) { p.connected(1) }},
	{"starting again", 300 * time.Millisecond, func(_ *ground, p *process) {
		p.connected(1)
		_ = p.cmd.Process.Signal(syscall.SIGHUP)
	}},
	{"hearing nothing", 3 * time.Second, func(g *ground, p *process) {
		p.connected(1)
		g.network.Set(mqtttest.Fault{Black: true})
	}},
}

// The daemon is told to stop at moments of chance, whatever it is busy with.
// It stops soon, in order, and nothing is lost.
func TestStoppedAtAnyMoment(t *testing.T) {
	n, rng := moments(t, len(occasions), 30, len(occasions))
	g := farGround(t, 6, 24)
	p := g.start()
	p.connected(1) // from here on the broker keeps what comes
	p.stop()
	wait := g.publish()
	for i := range n {
		o := occasions[i%len(occasions)]
		g.allowed.Store(g.part(i+1, n))
		p = g.start()
		o.of(g, p)
		t.Logf("%s: %v", o.name, g.stopSometime(p, time.Duration(rng.Int64N(int64(o.long)))))
		g.network.Set(mqtttest.Fault{})
	}
	g.allowed.Store(int64(len(g.messages)))
	wait()
	g.check(g.drained(g.start()))
}

// stopSometime tells the daemon to stop after a while, and looks at what it
// leaves.
func (g *ground) stopSometime(p *process, after time.Duration) time.Duration {
	g.t.Helper()
	<-time.After(after)
	took := p.stop()
	if took > stopLimit {
		g.t.Errorf("stopping took %v, want under %v", took, stopLimit)
	}
	k := g.open()
	if k.store.Unclean() {
		g.t.Error("an orderly stop left the store as after a crash")
	}
	k.close()
	return took.Round(time.Millisecond)
}
