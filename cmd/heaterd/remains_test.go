package main

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"

	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// remains are what the daemon left.
type remains struct {
	store  *store.Store
	ledger *ledger.Ledger
	lines  []record.Line
}

func (g *ground) open() *remains {
	g.t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, g.cfg.Store.Path, silent, ledger.Migrations)
	if err != nil {
		g.t.Fatal(err)
	}
	k := &remains{store: s, ledger: ledger.New(s), lines: g.readLog(s)}
	g.t.Cleanup(k.close)
	return k
}

// readLog reads on in the log: what was read before may have been put in its
// hours since.
func (g *ground) readLog(s *store.Store) []record.Line {
	g.t.Helper()
	for {
		after := int64(0)
		if n := len(g.lines); n > 0 {
			after = g.lines[n-1].ID
		}
		some, err := s.Lines(context.Background(), after, 10_000)
		if err != nil {
			g.t.Fatal(err)
		}
		if len(some) == 0 {
			return g.lines
		}
		g.lines = append(g.lines, some...)
	}
}

// peek reads on in the log of a daemon that is dead or alive.
func (g *ground) peek() {
	g.t.Helper()
	s, err := store.OpenReader(context.Background(), g.cfg.Store.Path, silent)
	if err != nil {
		g.t.Fatal(err)
	}
	g.readLog(s)
	_ = s.Close()
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
func (g *ground) published(messages []capture.Line) []record.Line {
	var out []record.Line
	for _, m := range messages {
		out = append(out, lineOf(g.cfg.Sources, m))
	}
	return out
}

// missing gives what was published and is not in the log as it was last read.
func (g *ground) missing() []measured {
	found := measuredIn(g.lines)
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

// once leaves out packs that say nothing that was not said before, but for
// the time that the last one brings.
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
	if n := len(lines); n > 0 {
		out = append(out, record.Line{ID: lines[n-1].ID, At: lines[n-1].At})
	}
	return out
}

// check compares what the daemon believes, through all its deaths, with an
// undisturbed fold of its own log.
func (g *ground) check(k *remains) {
	g.t.Helper()
	g.checkOnce(k, g.checkBelief(k))
}

// checkBelief does so but for what came twice.
func (g *ground) checkBelief(k *remains) (whole concluded) {
	g.t.Helper()
	ctx := context.Background()
	published := measuredIn(g.published(g.messages))
	for m := range measuredIn(k.lines) {
		if published[m] == 0 {
			g.t.Errorf("the log holds a sample of %s at %v that nobody sent", m.node, m.At)
		}
	}
	cursor, err := k.ledger.Cursor(ctx)
	if err != nil {
		g.t.Fatal(err)
	}
	folded := slices.IndexFunc(k.lines, func(l record.Line) bool { return l.ID > cursor })
	if folded < 0 {
		folded = len(k.lines)
	}
	want := g.fold(k.lines[:folded])
	whole = g.fold(k.lines)
	g.checkLedger(k, want)
	g.checkMemory(k, whole)
	g.checkSamples(k)
	return whole
}

// checkSamples: the store gives each sample, wherever it has put it.
func (g *ground) checkSamples(k *remains) {
	g.t.Helper()
	want := map[reading.NodeID]map[reading.Instant]reading.Sample{}
	for m := range measuredIn(k.lines) {
		if want[m.node] == nil {
			want[m.node] = map[reading.Instant]reading.Sample{}
		}
		want[m.node][m.At] = m.Sample
	}
	for node, samples := range want {
		found := 0
		err := k.store.Samples(context.Background(), node, 0, reading.InstantOf(time.Now()), func(x reading.Sample) bool {
			if samples[x.At].Has&x.Has == samples[x.At].Has {
				found++
			}
			return true
		})
		if err != nil {
			g.t.Fatal(err)
		}
		if found != len(samples) {
			g.t.Errorf("the store gives %d samples of %s, want %d", found, node, len(samples))
		}
	}
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
