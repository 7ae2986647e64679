package main

import (
	"cmp"
	"context"
	"encoding/json"
	goflag "flag"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/config"
	"heaterd/ingest/jobsite"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/source"
	"heaterd/ingest/store"
)

var (
	crashes   = goflag.Int("crashes", 8, "how often the daemon is killed in TestKilled")
	crashSeed = goflag.Uint64("crashseed", 0, "seed of the moments; 0: another each time")
)

// ground is a broker, a configuration and a stream of messages of some
// heaters, a day of them, to be sent as fast as the broker takes them.
type ground struct {
	t         *testing.T
	mosquitto *mqtttest.Mosquitto
	config    string
	cfg       *config.Config
	messages  []jobsite.CaptureLine

	allowed, sent atomic.Int64 // messages that may go, that have been acknowledged
}

func newGround(t *testing.T, heaters, hours int) *ground {
	t.Helper()
	g := &ground{t: t, mosquitto: mqtttest.StartMosquitto(t)}
	start := reading.InstantOf(time.Now().Add(-40 * time.Hour).Truncate(time.Minute))
	yaml, lines, _, err := jobsite.Labelled(7, jobsite.LabelSpec{Heaters: heaters, Days: 1, Start: start})
	if err != nil {
		t.Fatal(err)
	}
	until := start.Add(time.Duration(hours) * time.Hour)
	for _, l := range lines {
		if l.Topic != "" && l.At < until {
			g.messages = append(g.messages, l)
		}
	}
	g.config = filepath.Join(t.TempDir(), "heaterd.yaml")
	yaml += "broker: { url: \"" + g.mosquitto.URL() + "\" }\nhttp: { listen: \"127.0.0.1:0\" }\n"
	if err := os.WriteFile(g.config, []byte(yaml), 0o600); err != nil {
		t.Fatal(err)
	}
	if g.cfg, err = config.Load(g.config, os.LookupEnv); err != nil {
		t.Fatal(err)
	}
	return g
}

func (g *ground) start() *process {
	g.t.Helper()
	return startProcess(g.t, "run", "--config", g.config)
}

// publish sends every message, each node's in order and one at a time as a
// node does, until all are acknowledged; it goes no further than allowed.
func (g *ground) publish() (wait func()) {
	byTopic := map[string][]jobsite.CaptureLine{}
	for _, m := range g.messages {
		byTopic[m.Topic] = append(byTopic[m.Topic], m)
	}
	p := mqtt.NewPublisher(mqtt.Link{URL: g.mosquitto.URL(), ClientID: "nodes", Log: slog.New(slog.DiscardHandler)})
	ctx, cancel := context.WithCancel(context.Background())
	var all sync.WaitGroup
	for _, ms := range byTopic {
		all.Go(func() {
			for _, m := range ms {
				g.send(ctx, p, m)
			}
		})
	}
	g.t.Cleanup(func() { cancel(); all.Wait(); p.Close(context.Background()) })
	return all.Wait
}

// send tries until the broker has the message.
func (g *ground) send(ctx context.Context, p *mqtt.Publisher, m jobsite.CaptureLine) {
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
	for end := time.Now().Add(time.Minute); g.sent.Load() < n; breathe() {
		select {
		case <-p.ended:
			g.t.Fatalf("it ended by itself, %v; it said:\n%s", p.err, p.said.String())
		default:
		}
		if time.Now().After(end) {
			g.t.Fatalf("only %d of %d messages went out", g.sent.Load(), n)
		}
	}
}

// drained stops the daemon, looks into its store, and starts it again until
// everything that was published is there.
func (g *ground) drained(p *process) *remains {
	g.t.Helper()
	for try := 1; ; try++ {
		if took := p.stop(); took > 10*time.Second {
			g.t.Errorf("stopping took %v", took)
		}
		k := g.open()
		missing := g.missing(k.lines)
		if len(missing) == 0 || try == 10 {
			for _, m := range missing[:min(len(missing), 5)] {
				g.t.Errorf("lost: %s measured %v", m.node, m.At)
			}
			if len(missing) > 0 {
				g.t.Fatalf("%d of the samples that the broker took are lost", len(missing))
			}
			return k
		}
		k.close()
		p = g.start()
		p.connected(1)
		<-time.After(200 * time.Millisecond) // what waits at the broker comes now
	}
}

// remains are what the daemon left.
type remains struct {
	store  *store.Store
	ledger *ledger.Ledger
	lines  []record.Line
}

func (g *ground) open() *remains {
	g.t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, g.cfg.Store.Path, slog.New(slog.DiscardHandler), ledger.Migrations)
	if err != nil {
		g.t.Fatal(err)
	}
	k := &remains{store: s, ledger: ledger.New(s)}
	g.t.Cleanup(k.close)
	for after := int64(0); ; {
		some, err := s.Lines(ctx, after, 10_000)
		if err != nil {
			g.t.Fatal(err)
		}
		if len(some) == 0 {
			return k
		}
		k.lines = append(k.lines, some...)
		after = some[len(some)-1].ID
	}
}

func (k *remains) close() {
	if k.store != nil {
		_ = k.store.Close()
		k.store = nil
	}
}

// measured is a sample as a node measured it.
type measured struct {
	node reading.NodeID
	reading.Sample
}

func measuredIn(lines []record.Line) map[measured]int {
	out := map[measured]int{}
	for _, l := range lines {
		if l.Pack == nil {
			continue
		}
		for _, s := range l.Pack.Samples {
			out[measured{l.Pack.Node, s}]++
		}
	}
	return out
}

// published gives the lines that the messages become.
func (g *ground) published(messages []jobsite.CaptureLine) []record.Line {
	var out []record.Line
	for _, m := range messages {
		out = append(out, lineOf(source.Sources(g.cfg.Sources), captured(m)))
	}
	return out
}

func (g *ground) missing(lines []record.Line) []measured {
	found := measuredIn(lines)
	var out []measured
	for m := range measuredIn(g.published(g.messages)) {
		if found[m] == 0 {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b measured) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.node, b.node)) })
	return out
}

// concluded is everything that lines come to, in comparable words.
type concluded struct {
	Burns  []string // told before the end
	Alarms []string
	Rest   []string // hours, exposure, services, trends and the burns of the end
}

func (g *ground) fold(lines []record.Line) concluded {
	return conclude(g.t, fold.New(g.cfg.Fleet, rulesOf(g.cfg)), lines)
}

func conclude(t *testing.T, e *fold.Engine, lines []record.Line) concluded {
	t.Helper()
	var c concluded
	for _, l := range lines {
		got := e.Step(l)
		for _, b := range got.Burns {
			c.Burns = append(c.Burns, words(t, b))
		}
		for _, tr := range got.Transitions {
			c.Alarms = append(c.Alarms, words(t, tr.Outcome()))
		}
	}
	if err := finish(e, func(v any) error { c.Rest = append(c.Rest, words(t, v)); return nil }); err != nil {
		t.Fatal(err)
	}
	return c
}

func words(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// once leaves out packs that say nothing that was not said before.
func once(lines []record.Line) []record.Line {
	seen := map[measured]bool{}
	var out []record.Line
	for _, l := range lines {
		fresh := l.Pack == nil
		if l.Pack != nil {
			for _, s := range l.Pack.Samples {
				m := measured{l.Pack.Node, s}
				fresh = fresh || !seen[m]
				seen[m] = true
			}
		}
		if fresh {
			out = append(out, l)
		}
	}
	return out
}

// check compares what the daemon believes, through all its deaths, with an
// undisturbed fold of its own log.
func (g *ground) check(k *remains) {
	g.t.Helper()
	ctx := context.Background()
	published := measuredIn(g.published(g.messages))
	for m := range measuredIn(k.lines) {
		if published[m] == 0 {
			g.t.Errorf("the log holds a sample of %s at %v that nobody sent", m.node, m.At)
		}
	}
	cursor, _, err := k.ledger.Load(ctx)
	if err != nil {
		g.t.Fatal(err)
	}
	folded := slices.IndexFunc(k.lines, func(l record.Line) bool { return l.ID > cursor })
	if folded < 0 {
		folded = len(k.lines)
	}
	want, whole := g.fold(k.lines[:folded]), g.fold(k.lines)
	g.checkLedger(k, want)
	g.checkMemory(k, whole)
	g.checkOnce(k, whole)
}

// checkLedger: each burn and each change of an alarm is in the ledger, once.
func (g *ground) checkLedger(k *remains, want concluded) {
	g.t.Helper()
	burns, err := k.ledger.Burns(context.Background(), "", 0, 0)
	if err != nil {
		g.t.Fatal(err)
	}
	var got []string
	for _, b := range burns {
		if b.Final {
			got = append(got, words(g.t, b.Burn))
		}
	}
	same(g.t, "burns of the ledger", sorted(want.Burns), sorted(got))
	history, err := k.ledger.History(context.Background(), ledger.Filter{})
	if err != nil {
		g.t.Fatal(err)
	}
	got = nil
	for _, tr := range history {
		got = append(got, words(g.t, tr.Outcome()))
	}
	same(g.t, "changes of alarms", sorted(want.Alarms), sorted(got))
}

// checkMemory: the engine's memory, and the lines after it, come to the same
// as all the lines.
func (g *ground) checkMemory(k *remains, want concluded) {
	g.t.Helper()
	cursor, body, ok, err := k.store.LoadSnapshot(context.Background(), "engine")
	if err != nil || !ok {
		g.t.Fatalf("no memory was left: %v", err)
	}
	e := fold.New(g.cfg.Fleet, rulesOf(g.cfg))
	if err := e.Restore(body); err != nil {
		g.t.Fatal(err)
	}
	after := slices.DeleteFunc(slices.Clone(k.lines), func(l record.Line) bool { return l.ID <= cursor })
	same(g.t, "hours, exposure and what else stands at the end", want.Rest, conclude(g.t, e, after).Rest)
}

// checkOnce: what came twice counts once.
func (g *ground) checkOnce(k *remains, want concluded) {
	g.t.Helper()
	got := g.fold(once(k.lines))
	same(g.t, "burns without repetitions", want.Burns, got.Burns)
	same(g.t, "the end without repetitions", want.Rest, got.Rest)
}

func sorted(s []string) []string { s = slices.Clone(s); slices.Sort(s); return s }

func same(t *testing.T, what string, want, got []string) {
	t.Helper()
	if diff := gocmp.Diff(want, got); diff != "" {
		t.Errorf("%s differ (-undisturbed +daemon):\n%.4000s", what, diff)
	}
}

// The daemon is killed at moments of chance while messages pour in. Nothing
// that the broker was told is kept may be missing, and what is believed in
// the end may not depend on the deaths.
func TestKilled(t *testing.T) {
	deaths := *crashes
	if testing.Short() {
		deaths = min(deaths, 3)
	}
	seed := *crashSeed
	if seed == 0 {
		seed = rand.Uint64()
	}
	t.Logf("%d deaths, -crashseed %d", deaths, seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	g := newGround(t, 6, 24)
	chunk := int64(len(g.messages) / (deaths + 1))
	p := g.start()
	p.connected(1)
	wait := g.publish()
	for i := range int64(deaths) {
		g.allowed.Store((i + 1) * chunk)
		g.until(i*chunk+rng.Int64N(chunk), p)
		p.kill()
		p = g.start()
		if rng.IntN(4) > 0 { // else it may die before it is up
			p.connected(1)
		}
	}
	g.allowed.Store(int64(len(g.messages)))
	wait()
	k := g.drained(p)
	repeated := 0
	for _, n := range measuredIn(k.lines) {
		repeated += n - 1
	}
	t.Logf("%d messages, %d lines in the log, %d samples came more than once", len(g.messages), len(k.lines), repeated)
	g.check(k)
}

// A stop in the middle of a stream is quick and loses nothing.
func TestStoppedInMidStream(t *testing.T) {
	g := newGround(t, 4, 12)
	p := g.start()
	p.connected(1)
	wait := g.publish()
	for i := range int64(3) {
		g.allowed.Store(int64(len(g.messages)))
		g.until((i+1)*int64(len(g.messages))/5, p)
		if took := p.stop(); took > 10*time.Second {
			t.Errorf("stopping took %v, want under 10 s", took)
		}
		k := g.open()
		if k.store.Unclean() {
			t.Error("an orderly stop left the store as after a crash")
		}
		k.close()
		p = g.start()
		p.connected(1)
	}
	wait()
	g.check(g.drained(p))
}

// The broker dies and forgets its sessions. The daemon comes back by itself
// and receives again; what it had before is still there.
func TestBrokerForgetsItsSessions(t *testing.T) {
	g := newGround(t, 4, 8)
	half := int64(len(g.messages) / 2)
	p := g.start()
	p.connected(1)
	g.allowed.Store(half)
	wait := g.publish()
	g.until(half, p)
	g.settle(p)
	g.mosquitto.Kill()
	g.mosquitto.Start()
	p.connected(2)
	g.allowed.Store(int64(len(g.messages)))
	wait()
	g.check(g.drained(p))
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
