package main

import (
	"strings"
	"testing"
	"time"

	"heaterd/ingest/mqtt/mqtttest"
)

// hardship is what a network does to the daemon while messages pour in; it
// ends with a good network.
type hardship struct {
	name string
	do   func(*ground, *process)
}

var hardships = []hardship{
	{"cut", func(g *ground, p *process) {
		for i := range 4 {
			g.let(i+1, 6, p)
			g.network.Cut()
			p.connected(i + 2)
		}
	}},
	{"cut in the middle of packets", func(g *ground, p *process) {
		g.let(1, 6, p)
		for i, after := range []int{3001, 7, 20_011, 4099} { // 7: within the answer to its subscription
			g.network.Set(mqtttest.Fault{CutAfter: after})
			g.network.Cut()
			g.let(i+2, 6, p)
			p.says(`msg="the broker is not connected; it is tried again"`, i+2)
		}
		g.network.Set(mqtttest.Fault{})
		g.network.Cut()
	}},
	{"black", func(g *ground, p *process) {
		g.let(2, 6, p)
		g.network.Set(mqtttest.Fault{Black: true})
		g.let(5, 6, p)
		p.says("nothing was heard for", 1)
		p.ready("broker", false)
		g.network.Set(mqtttest.Fault{})
		p.connected(2)
	}},
	{"far away", func(g *ground, p *process) {
		g.network.Set(mqtttest.Fault{Delay: 300 * time.Millisecond})
		g.let(6, 6, p)
		g.network.Cut()
		p.connected(2)
	}},
	{"slow", func(g *ground, p *process) {
		g.network.Set(mqtttest.Fault{Rate: 4000})
		g.let(6, 6, p)
		<-time.After(5 * time.Second) // several times what a dead network is noticed in
		g.network.Set(mqtttest.Fault{})
		if n := strings.Count(p.said.String(), `msg="broker connected"`); n != 1 {
			g.t.Errorf("it gave up a slow network %d times", n-1)
		}
	}},
}

// Whatever the network between daemon and broker does, nothing is lost, and
// what is believed does not depend on it.
func TestNetworkInTrouble(t *testing.T) {
	for _, h := range hardships {
		t.Run(h.name, func(t *testing.T) {
			t.Parallel()
			g := farGround(t, 4, 12)
			p := g.start()
			p.connected(1)
			wait := g.publish()
			h.do(g, p)
			g.allowed.Store(int64(len(g.messages)))
			wait()
			g.check(g.drained(p))
		})
	}
}

// let lets a part of the stream go out.
func (g *ground) let(of, whole int, p *process) {
	g.t.Helper()
	n := g.part(of, whole)
	g.allowed.Store(n)
	g.until(n, p)
}
