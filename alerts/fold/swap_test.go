package fold_test

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// swaps is a day of heaters whose units change places, told late.
type swaps struct {
	rng  *rand.Rand
	lit  [][]bool // by heater and minute
	on   [][]int  // unit on a heater, by heater and minute; -1 none
	sent []record.Line
}

const swapMinutes = 24 * 60

func newSwaps(seed uint64, heaters int) swaps {
	w := swaps{rng: rand.New(rand.NewPCG(seed, 0)), lit: make([][]bool, heaters), on: make([][]int, heaters)}
	for h := range heaters {
		lit := false
		for range swapMinutes {
			lit = lit != (w.rng.IntN(40) == 0)
			w.lit[h] = append(w.lit[h], lit)
			w.on[h] = append(w.on[h], h)
		}
		w.lit[h][swapMinutes-1] = false // the record ends within that minute
	}
	for m := 60; m < swapMinutes-60; m += 20 + w.rng.IntN(400) {
		w.fit(m, w.rng.IntN(heaters), w.on[w.rng.IntN(heaters)][m])
	}
	for unit := range heaters {
		w.measure(unit)
	}
	slices.SortStableFunc(w.sent, func(a, b record.Line) int { return cmp.Compare(a.At, b.At) })
	return w
}

func minute(m int) reading.Instant { return benchStart.Add(time.Duration(m) * time.Minute) }

// fit puts a unit on a heater from a minute on, and takes it from where it was.
func (w *swaps) fit(m, heater, unit int) {
	if unit < 0 || w.on[heater][m] == unit {
		return
	}
	w.sent = append(w.sent, record.Line{
		At:    minute(m).Add(-20 * time.Second),
		Entry: &record.Entry{Heater: fmt.Sprint("H-", heater), Task: "fit-node", Node: fmt.Sprint("n-", unit)},
	})
	for i := m; i < swapMinutes; i++ {
		for h := range w.on {
			if w.on[h][i] == unit {
				w.on[h][i] = -1
			}
		}
		w.on[heater][i] = unit
	}
}

// measure lets a unit report each minute, some of it up to three hours later.
func (w *swaps) measure(unit int) {
	run, deaf := float64(1000*unit), 0
	for m := range swapMinutes {
		if deaf--; deaf < 0 && w.rng.IntN(150) == 0 {
			deaf = 5 + w.rng.IntN(180)
		}
		h := slices.IndexFunc(w.on, func(on []int) bool { return on[m] == unit })
		if h < 0 {
			continue
		}
		x := reading.Sample{At: minute(m), Has: reading.Flame | reading.Runtime, Runtime: run}
		if w.lit[h][m] {
			x.On, run = reading.Flame, run+60
		}
		w.sent = append(w.sent, record.Line{
			At:   minute(m + max(deaf, 0)).Add(time.Second),
			Pack: &reading.Pack{Node: reading.NodeID(fmt.Sprint("n-", unit)), Samples: []reading.Sample{x}},
		})
	}
}

// burned gives the hours of a heater.
func (w *swaps) burned(heater int) (h float64) {
	for _, lit := range w.lit[heater] {
		if lit {
			h += 1.0 / 60
		}
	}
	return h
}

// Units change places, and send hours later what they measured where they were
// before: the hours of every heater stay within their bounds.
func TestHoursHoldWhereUnitsChangePlaces(t *testing.T) {
	for seed := range uint64(100) {
		w := newSwaps(seed, 3)
		e := fold.New(benchFleet(3), fold.DefaultRules())
		for _, l := range w.sent {
			e.Step(l)
		}
		for h, x := range e.Finish().Hours {
			if truth := w.burned(h); x.Low > truth+1e-6 || x.High < truth-1e-6 {
				t.Errorf("seed %d: H-%d burned %.3f h, told %.3f to %.3f (%.3f)", seed, h, truth, x.Low, x.High, x.Hours)
			}
		}
	}
}
