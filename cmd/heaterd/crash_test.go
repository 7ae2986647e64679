package main

import (
	"cmp"
	goflag "flag"
	"math/rand/v2"
	"os"
	"testing"

	"heaterd/ingest/store"
)

var (
	crashes   = goflag.Int("crashes", 0, "how often the daemon is killed in TestKilled; 0: 8 times, 200 where CI is true, 3 with -short")
	crashSeed = goflag.Uint64("crashseed", 0, "seed of the moments; 0: another each time")
)

// moments gives how often something is to happen, and draws when.
func moments(t *testing.T, usual, thorough, short int) (int, *rand.Rand) {
	t.Helper()
	n, seed := usual, *crashSeed
	switch {
	case testing.Short():
		n = short
	case os.Getenv("CI") == "true":
		n = thorough
	}
	if seed == 0 {
		seed = rand.Uint64()
	}
	t.Logf("%d moments, -crashseed %d", n, seed)
	return n, rand.New(rand.NewPCG(seed, 0))
}

// The daemon is killed at moments of chance while messages pour in. Nothing
// that the broker was told is kept may be missing, and what is believed in
// the end may not depend on the deaths.
func TestKilled(t *testing.T) {
	deaths, rng := moments(t, cmp.Or(*crashes, 8), cmp.Or(*crashes, 200), 3)
	g := newGround(t, 6+deaths/25, 24) // so that there still is a stream while it dies
	p := g.dieOften(deaths, rng, func() {})
	k := g.drained(p)
	repeated := 0
	for _, n := range measuredIn(k.lines) {
		repeated += n - 1
	}
	t.Logf("%d messages, %d lines in the log, %d samples came more than once", len(g.messages), len(k.lines), repeated)
	g.check(k)
}

// The same while the daemon puts what is older in its hours.
func TestKilledWhileItTidies(t *testing.T) {
	deaths, rng := moments(t, 6, 60, 2)
	g := newGround(t, 6, 24)
	g.program = impatient
	g.dieOften(deaths, rng, g.peek).kill()
	g.peek()       // for what arrived since the death before
	p := g.start() // puts all that arrived before it in its hours
	p.until("nothing is put in its hours", g.tidied)
	k := g.drained(p)
	if upto, err := k.store.Compacted(t.Context()); upto == 0 || err != nil {
		t.Errorf("nothing was put in its hours: %v", err)
	}
	g.check(k)
}

// tidied reports whether the daemon has put something in its hours.
func (g *ground) tidied() bool {
	s, err := store.OpenReader(g.t.Context(), g.cfg.Store.Path, silent)
	if err != nil {
		g.t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	upto, err := s.Compacted(g.t.Context())
	if err != nil {
		g.t.Fatal(err)
	}
	return upto > 0
}

// dieOften kills the daemon while the whole stream goes out; after each death
// it looks at what is left.
func (g *ground) dieOften(deaths int, rng *rand.Rand, look func()) *process {
	g.t.Helper()
	chunk := g.part(1, deaths+1)
	p := g.start()
	p.connected(1)
	wait := g.publish()
	for i := range int64(deaths) {
		g.allowed.Store((i + 1) * chunk)
		g.until(i*chunk+rng.Int64N(chunk), p)
		p.kill()
		look()
		p = g.start()
		if rng.IntN(4) > 0 { // else it may die before it is up
			p.connected(1)
		}
	}
	g.allowed.Store(int64(len(g.messages)))
	wait()
	return p
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
