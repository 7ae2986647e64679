package main

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"heaterd/config"
	"heaterd/ingest/capture"
	"heaterd/ingest/jobsite"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// ground is a broker, a configuration and a stream of messages of some
// heaters, a day of them, to be sent as fast as the broker takes them.
type ground struct {
	t         *testing.T
	mosquitto *mqtttest.Mosquitto
	network   *mqtttest.Network // between daemon and broker; nil: none that can fail
	program   *build            // nil: as it is shipped
	config    string
	cfg       *config.Config
	messages  []capture.Line
	lines     []record.Line // of the daemon's log, as far as it was read

	allowed, sent atomic.Int64 // messages that may go, that have been acknowledged
}

func newGround(t *testing.T, heaters, hours int) *ground {
	t.Helper()
	g := &ground{t: t, mosquitto: mqtttest.StartMosquitto(t)}
	g.configure(t.TempDir(), g.mosquitto.URL(), heaters, hours)
	return g
}

// farGround has a network that can fail between daemon and broker.
func farGround(t *testing.T, heaters, hours int) *ground {
	t.Helper()
	g := &ground{t: t, mosquitto: mqtttest.StartMosquitto(t), program: impatient}
	g.network = mqtttest.StartNetwork(t, g.mosquitto.Addr())
	g.configure(t.TempDir(), g.network.URL(), heaters, hours)
	return g
}

// configure invents the stream, and writes the configuration into the folder
// that will hold the store.
func (g *ground) configure(dir, broker string, heaters, hours int) {
	g.t.Helper()
	start := reading.InstantOf(time.Now().Add(-40 * time.Hour).Truncate(time.Minute))
	yaml, lines, _, err := jobsite.Labelled(7, jobsite.LabelSpec{Heaters: heaters, Days: 1, Start: start})
	if err != nil {
		g.t.Fatal(err)
	}
	until := start.Add(time.Duration(hours) * time.Hour)
	for _, l := range lines {
		if l.Topic != "" && l.At < until {
			g.messages = append(g.messages, l)
		}
	}
	g.config = filepath.Join(dir, "heaterd.yaml")
	yaml += "broker: { url: \"" + broker + "\" }\nhttp: { listen: \"127.0.0.1:0\" }\n"
	if err := os.WriteFile(g.config, []byte(yaml), 0o600); err != nil {
		g.t.Fatal(err)
	}
	if g.cfg, err = config.Load(g.config, os.LookupEnv); err != nil {
		g.t.Fatal(err)
	}
}

func (g *ground) start() *process {
	g.t.Helper()
	return startCommand(g.t, exec.Command(cmp.Or(g.program, asShipped).path(g.t), "run", "--config", g.config))
}

// part gives a share of the stream, in messages.
func (g *ground) part(of, whole int) int64 { return int64(of * len(g.messages) / whole) }

// publish sends every message, each node's in order and one at a time as a
// node does, until all are acknowledged; it goes no further than allowed.
func (g *ground) publish() (wait func()) {
	byTopic := map[string][]capture.Line{}
	for _, m := range g.messages {
		byTopic[m.Topic] = append(byTopic[m.Topic], m)
	}
	p := mqtt.NewPublisher(mqtt.Link{URL: g.mosquitto.URL(), ClientID: "nodes", Log: silent})
	ctx, cancel := context.WithCancel(context.Background())
	var all sync.WaitGroup
	for _, ms := range byTopic {
		all.Go(func() {
			for _, m := range ms {
				g.send(ctx, p, m)
			}
		})
	}
	g.t.Cleanup(func() { cancel(); all.Wait(); p.Close() })
	return all.Wait
}

// send tries until the broker has the message.
func (g *ground) send(ctx context.Context, p *mqtt.Publisher, m capture.Line) {
	for ctx.Err() == nil {
		if g.sent.Load() >= g.allowed.Load() || p.Publish(ctx, m.Topic, m.Payload, strings.HasSuffix(m.Topic, "/status")) != nil {
			breathe()
			continue
		}
		g.sent.Add(1)
		return
	}
}

// until waits for a count of acknowledged messages, or for the daemon's end.
func (g *ground) until(n int64, p *process) {
	g.t.Helper()
	p.until("the messages do not go out", func() bool { return g.sent.Load() >= n })
}

// drained waits until everything that was published is in the log, stops the
// daemon, and looks at what it leaves.
func (g *ground) drained(p *process) *remains {
	g.t.Helper()
	missing := g.missing()
	for end := time.Now().Add(time.Minute); len(missing) > 0 && time.Now().Before(end); missing = g.missing() {
		<-time.After(50 * time.Millisecond) // looking takes the machine's time
		g.peek()
	}
	for _, m := range missing[:min(len(missing), 5)] {
		g.t.Errorf("lost: %s measured %v", m.node, m.At)
	}
	if len(missing) > 0 {
		g.t.Fatalf("%d of the samples that the broker took are lost; refused: %v; it said:\n%s", len(missing), g.refused(), p.said.String())
	}
	if took := p.stop(); took > stopLimit {
		g.t.Errorf("stopping took %v", took)
	}
	return g.open()
}

// refused gives what the daemon took and would not believe.
func (g *ground) refused() (all []string) {
	g.t.Helper()
	s, err := store.OpenReader(context.Background(), g.cfg.Store.Path, silent)
	if err != nil {
		g.t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	some, err := s.ListQuarantine(context.Background(), "", 20, 200)
	if err != nil {
		g.t.Fatal(err)
	}
	for _, q := range some {
		all = append(all, fmt.Sprintf("%v %+v %q", q.At, q.Refused, q.Payload))
	}
	return all
}

// settle waits until the daemon has written down what the broker holds for
// it: until its store has not grown for a while.
func (g *ground) settle(p *process) {
	g.t.Helper()
	size := func() (n int64) {
		for _, end := range []string{"", "-wal"} {
			if st, err := os.Stat(g.cfg.Store.Path + end); err == nil {
				n += st.Size() + st.ModTime().UnixNano()
			}
		}
		return n
	}
	last, since := size(), time.Now()
	for end := time.Now().Add(time.Minute); time.Since(since) < 2*time.Second && time.Now().Before(end); breathe() {
		if now := size(); now != last {
			last, since = now, time.Now()
		}
	}
}
