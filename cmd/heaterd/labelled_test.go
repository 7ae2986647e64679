package main

import (
	goflag "flag"
	"fmt"
	"sort"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/config"
	"heaterd/ingest/capture"
	"heaterd/ingest/jobsite"
)

// Seeds of labelled sets. Figures were tuned on the first range only; the
// second is for the verdict.
var (
	tuningSeeds     = [2]uint64{1, 20}
	evaluationSeeds = [2]uint64{2000, 2019}
)

// folded is what a labelled set comes to.
type folded struct {
	burns []outcome.Burn
	rest  fold.Outcomes
	truth jobsite.Truth
}

func foldLabelled(t testing.TB, seed uint64, spec jobsite.LabelSpec) folded {
	t.Helper()
	yaml, lines, truth, err := jobsite.Labelled(seed, spec)
	if err != nil {
		t.Fatal(err)
	}
	cfg, err := config.Parse("labelled.yaml", []byte(yaml), config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return foldLines(cfg, lines, truth)
}

func foldLines(cfg *config.Config, lines []capture.Line, truth jobsite.Truth) folded {
	engine := fold.New(cfg.Fleet, rulesOf(cfg))
	out := folded{truth: truth}
	for _, l := range lines {
		e := engine.Step(lineOf(cfg.Sources, l))
		out.burns = append(out.burns, e.Burns...)
	}
	out.rest = engine.Finish()
	out.burns = append(out.burns, out.rest.Burns...)
	return out
}

// confusion counts true endings (rows) against found ones (columns).
type confusion map[[2]string]int

const missed = "missed"

func (f folded) confuse(c confusion, near time.Duration) {
	byHeater := map[string][]outcome.Burn{}
	for _, b := range f.burns {
		byHeater[b.Heater] = append(byHeater[b.Heater], b)
	}
	for _, h := range f.truth.Heaters {
		m := matching{found: byHeater[h.ID], near: near}
		m.used = make([]bool, len(m.found))
		for _, b := range h.Burns {
			if seen := b.Samples > 0 && b.After > 0; seen && b.Ending != string(outcome.Unknown) {
				m.count(c, h.ID, b, m.nearest(b))
			}
		}
		for _, b := range h.Burns {
			if seen := b.Samples > 0 && b.After > 0; seen && b.Ending == string(outcome.Unknown) {
				m.count(c, h.ID, b, m.overlapping(b))
			}
		}
		for _, b := range h.Burns { // no sample saw it: only the counter can tell
			if b.Samples == 0 || b.After == 0 {
				m.take(max(m.overlapping(b), m.nearest(b)))
			}
		}
		m.rest(c, h.ID)
	}
}

// matching pairs true burns with found ones, each once.
type matching struct {
	found []outcome.Burn
	used  []bool
	near  time.Duration
}

func (m *matching) take(i int) {
	if i >= 0 {
		m.used[i] = true
	}
}

func (m *matching) count(c confusion, heater string, b jobsite.Burn, i int) {
	m.take(i)
	what, why := missed, []string(nil)
	if i >= 0 {
		what, why = string(m.found[i].Ending), m.found[i].Evidence
	}
	if *wrong && what != b.Ending {
		fmt.Printf("%s %v to %v is %s (%s; %d lit, %d out), found %s %q\n", heater, b.Start, b.End, b.Ending, b.Cause, b.Samples, b.After, what, why)
	}
	c[[2]string{b.Ending, what}]++
}

func (m *matching) rest(c confusion, heater string) {
	for i, b := range m.found {
		if m.used[i] {
			continue
		}
		if *wrong {
			fmt.Printf("%s %v to %v is nothing, found %s %q\n", heater, b.Start, b.End, b.Ending, b.Evidence)
		}
		c[[2]string{missed, string(b.Ending)}]++
	}
}

// nearest gives the free burn whose end is nearest; -1 where none is near.
func (m *matching) nearest(b jobsite.Burn) int {
	best, bestOff := -1, m.near
	for i, f := range m.found {
		if off := f.End.Sub(b.End).Abs(); !m.used[i] && off <= bestOff {
			best, bestOff = i, off
		}
	}
	return best
}

// overlapping gives a free burn of unknown ending that overlaps, else the
// nearest: in a silence nobody can place the end.
func (m *matching) overlapping(b jobsite.Burn) int {
	for i, f := range m.found {
		if !m.used[i] && f.Ending == outcome.Unknown && f.Start <= b.End && f.End >= b.Start {
			return i
		}
	}
	return m.nearest(b)
}

func (c confusion) String() string {
	names := append(endingNames(), missed)
	var b strings.Builder
	fmt.Fprintf(&b, "%-12s", "true\\found")
	for _, n := range names {
		fmt.Fprintf(&b, "%12s", n)
	}
	for _, row := range names {
		fmt.Fprintf(&b, "\n%-12s", row)
		for _, col := range names {
			fmt.Fprintf(&b, "%12d", c[[2]string{row, col}])
		}
	}
	for _, n := range endingNames() {
		p, r := c.precision(n), c.recall(n)
		fmt.Fprintf(&b, "\n%-12s precision %.3f recall %.3f", n, p, r)
	}
	return b.String()
}

func endingNames() []string {
	var out []string
	for _, e := range outcome.Endings() {
		out = append(out, string(e))
	}
	sort.Strings(out)
	return out
}

func (c confusion) precision(n string) float64 { return c.share(n, 1) }
func (c confusion) recall(n string) float64    { return c.share(n, 0) }

func (c confusion) share(n string, side int) float64 {
	all := 0
	for k, v := range c {
		if k[side] == n {
			all += v
		}
	}
	if all == 0 {
		return 1
	}
	return float64(c[[2]string{n, n}]) / float64(all)
}

// foldSets folds the sets of a range of seeds on all processors.
func foldSets(t *testing.T, seeds [2]uint64, spec jobsite.LabelSpec) []folded {
	all := make([]folded, seeds[1]-seeds[0]+1)
	t.Run("fold", func(t *testing.T) {
		for i := range all {
			t.Run(fmt.Sprint(seeds[0]+uint64(i)), func(t *testing.T) {
				t.Parallel()
				all[i] = foldLabelled(t, seeds[0]+uint64(i), spec)
			})
		}
	})
	return all
}

func evaluate(t *testing.T, seeds [2]uint64, spec jobsite.LabelSpec, near time.Duration, want float64) {
	c := confusion{}
	for _, f := range foldSets(t, seeds, spec) {
		f.confuse(c, near)
	}
	t.Logf("seeds %d to %d, reporting every %v, %.0f %% lost:\n%v", seeds[0], seeds[1], spec.Reporting, 100*spec.Delivery.Loss, c)
	for _, n := range endingNames() {
		if c.precision(n) < want || c.recall(n) < want {
			t.Errorf("%s: precision %.3f, recall %.3f, want both at least %.2f", n, c.precision(n), c.recall(n), want)
		}
	}
}

func TestEndingsEvery30s(t *testing.T) {
	evaluate(t, seeds(*sets), jobsite.LabelSpec{Reporting: 30 * time.Second}, 2*time.Minute, 0.95)
}

func TestEndingsEvery2minWithLoss(t *testing.T) {
	evaluate(t, seeds(*sets), jobsite.LabelSpec{Reporting: 2 * time.Minute, Delivery: jobsite.DeliverySpec{Loss: 0.05}}, 8*time.Minute, 0.90)
}

// seeds are the first n of the evaluation's, unless tuning is asked for; two
// under -short.
func seeds(n uint64) [2]uint64 {
	of := evaluationSeeds
	if *tuning {
		of = tuningSeeds
	}
	if testing.Short() {
		n = 2
	}
	return [2]uint64{of[0], min(of[1], of[0]+max(n, 1)-1)}
}

// Few by default: what everybody runs has to end within the ten minutes that
// go test gives a package, on a slow machine too. The check runs all of them.
var sets = goflag.Uint64("sets", 4, "how many labelled sets to judge, at most 20")

var wrong = goflag.Bool("wrong", false, "print every ending that was found wrong")

var tuning = goflag.Bool("tuning", false, "use the seeds that figures are tuned on")

// Clocks that are wrong from the start, and that somebody sets, make no burns
// that never were.
func TestEndingsByWrongClocks(t *testing.T) {
	evaluate(t, seeds(*sets/2), jobsite.LabelSpec{Reporting: 30 * time.Second, ClockFaults: true}, 2*time.Minute, 0.94)
}
