package burner_test

import (
	"math"
	"slices"
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
	"pgregory.net/rapid"
)

// t0 is where the invented records begin.
const t0 = reading.Instant(1_768_197_600_000_000)

func at(s float64) reading.Instant { return t0.AddSeconds(s) }

// truth is what really happened: lit stretches in seconds from t0, ascending.
type truth struct {
	lit [][2]float64
	end float64
}

// burned gives the seconds lit in [a, b).
func (w *truth) burned(a, b float64) float64 {
	sum := 0.0
	for _, l := range w.lit {
		sum += max(0, min(b, l[1])-max(a, l[0]))
	}
	return sum
}

func (w *truth) isLit(t float64) bool {
	return slices.ContainsFunc(w.lit, func(l [2]float64) bool { return l[0] <= t && t < l[1] })
}

// unit is a node's view of it, with everything that goes wrong.
type unit struct {
	every   float64
	quantum float64 // 0: continuous
	start   float64 // counter at t0
	resets  []reset
	gaps    [][2]float64
	lost    map[int]bool
	wild    map[int]float64
	flame   bool
	counter bool
	stuck   [2]float64 // the counter does not move
}

type reset struct{ t, to float64 }

// count gives what the counter reads at t.
func (u *unit) count(w *truth, t float64) float64 {
	from, v := 0.0, u.start
	for _, r := range u.resets {
		if r.t <= t {
			from, v = r.t, r.to
		}
	}
	v += w.burned(from, t) - w.burned(max(from, u.stuck[0]), min(t, u.stuck[1]))
	if u.quantum > 0 {
		v = math.Floor(v/u.quantum+1e-9) * u.quantum
	}
	return v
}

// samples gives what arrives.
func (u *unit) samples(w *truth) []reading.Sample {
	var out []reading.Sample
	for i := 0; float64(i)*u.every <= w.end; i++ {
		t := float64(i) * u.every
		silent := slices.ContainsFunc(u.gaps, func(g [2]float64) bool { return g[0] <= t && t < g[1] })
		if silent || u.lost[i] {
			continue
		}
		x := reading.Sample{At: at(t)}
		if u.flame {
			x.Has |= reading.Flame
			if w.isLit(t) {
				x.On |= reading.Flame
			}
		}
		if u.counter {
			x.Has |= reading.Runtime
			x.Runtime = u.count(w, t) + u.wild[i]
		}
		out = append(out, x)
	}
	return out
}

func (u *unit) expected() time.Duration { return time.Duration(u.every * float64(time.Second)) }

// drawTruth invents burns no shorter, and breaks no shorter, than dwell.
func drawTruth(t *rapid.T, dwell float64) *truth {
	w := &truth{end: float64(rapid.IntRange(2, 40).Draw(t, "hours")) * 3600}
	long := rapid.SampledFrom([]int{60, 600, 3600, 20000}).Draw(t, "long")
	now := float64(rapid.IntRange(-3000, 3000).Draw(t, "first"))
	for now < w.end && len(w.lit) < 100 {
		on := dwell + float64(rapid.IntRange(0, long).Draw(t, "on"))
		w.lit = append(w.lit, [2]float64{max(0, now), max(0, now+on)})
		now += on + dwell + float64(rapid.IntRange(0, long).Draw(t, "off"))
	}
	return w
}

// drawUnit invents a node.
func drawUnit(t *rapid.T, w *truth, every float64) *unit {
	u := &unit{every: every, lost: map[int]bool{}, wild: map[int]float64{}, flame: true, counter: true}
	n := int(w.end / every)
	u.quantum = rapid.SampledFrom([]float64{1, 1, 1, 0, 60, 360, 600, 3600}).Draw(t, "quantum")
	u.start = float64(rapid.SampledFrom([]int{0, 0, 7, 5000, 1486080, 9999999}).Draw(t, "start"))
	for range rapid.IntRange(0, 3).Draw(t, "gaps") {
		a := float64(rapid.IntRange(0, int(w.end)).Draw(t, "gap"))
		u.gaps = append(u.gaps, [2]float64{a, a + float64(rapid.IntRange(60, 30000).Draw(t, "for"))})
	}
	for range rapid.IntRange(0, 20).Draw(t, "losses") {
		u.lost[rapid.IntRange(0, n).Draw(t, "lost")] = true
	}
	return u
}

// drawFaults adds restarts, other units and wild readings to the counter.
func drawFaults(t *rapid.T, w *truth, u *unit) {
	for k := range rapid.IntRange(0, 3).Draw(t, "restarts") {
		r := float64(rapid.IntRange(1, int(w.end)).Draw(t, "restart"))
		if len(u.gaps) > 0 && rapid.Bool().Draw(t, "in gap") {
			r = u.gaps[0][0] + 1
		}
		to := float64(rapid.SampledFrom([]int{0, 0, 0, 30_000_000 * (k + 1)}).Draw(t, "to"))
		u.resets = append(u.resets, reset{r, to})
	}
	delete(u.lost, 0) // a restart before the first sample is beyond the bounds' promise
	for i := range u.gaps {
		u.gaps[i][0] = max(1, u.gaps[i][0])
	}
	slices.SortFunc(u.resets, func(a, b reset) int { return int(a.t - b.t) })
	last := -10
	for range rapid.IntRange(0, 3).Draw(t, "spikes") {
		i := rapid.IntRange(2, int(w.end/u.every)).Draw(t, "spike") // a wild first reading hides a restart before the second
		if i-last > 5 || last-i > 5 {
			u.wild[i] = float64(rapid.SampledFrom([]int{1 << 30, 200_000_000}).Draw(t, "wild"))
			last = i
		}
	}
}

// run folds samples and gives the state and the burns that ended.
func run(xs []reading.Sample, expected time.Duration) (burner.State, []burner.Burn) {
	var s burner.State
	o := burner.DefaultOptions()
	var out []burner.Burn
	for _, x := range xs {
		b, n := s.Apply(x, expected, t0, &o)
		out = append(out, b[:n]...)
	}
	return s, out
}
