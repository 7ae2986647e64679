package shutdown

import (
	"math"
	"slices"
)

// kept is how many endings a habit remembers.
const kept = 16

// Habit remembers the temperatures at which a heater's last burns ended. It
// is a plain value; the zero value remembers nothing.
type Habit struct {
	Ring [kept]float32 // °C
	Next uint8
	N    uint8
}

// Add remembers one more ending. Burns that ended in a silence, or too short
// to have warmed anything (Options.ShortBurn), do not belong in it.
func (h *Habit) Add(endC float32) {
	h.Ring[h.Next] = endC
	h.Next = (h.Next + 1) % kept
	h.N = min(h.N+1, kept)
}

// Usual is where a heater usually switches off.
type Usual struct {
	N      int32   // endings that agree on it; of fixed size, for it is kept in snapshots
	C      float64 // °C, their median
	Spread float64 // °C, their median absolute deviation; see grainOf for the least
	Step   float64 // °C, the finest by which they differ; 0: not known
}

// alike is how far apart endings at one switch-off temperature may lie, °C:
// sensor noise and overshoot; common practice, no source.
const alike = 0.8

// Usual finds the temperature on which most endings agree, the upper one of
// two: a heater that fails does so below its switch-off temperature, at any
// temperature, so failures do not pull it down.
func (h *Habit) Usual() Usual {
	var buf [kept]float32
	c := buf[:h.N]
	copy(c, h.Ring[:h.N])
	slices.Sort(c)
	grain := grainOf(c)
	from, to := densest(c, max(alike, grain+roundingC))
	if to == from {
		return Usual{}
	}
	best := c[from:to]
	m := float64(best[len(best)/2])
	return Usual{N: int32(len(best)), C: m, Spread: max(spread(best, m), grain/3), Step: step(best)}
}

// grainOf gives the step of a sensor that tells whole degrees, °C: 1, and 0
// where it tells them finer. One switch-off temperature then reads as two, of
// which the second is to count as the first: a third of a step is the least
// spread, since three of those are allowed for (Options.slack).
func grainOf(c []float32) float64 {
	for _, v := range c {
		if float64(v) != math.Round(float64(v)) {
			return 0
		}
	}
	return 1
}

// densest gives the longest run of sorted values that lie within a span, the
// upper one of equals.
func densest(c []float32, span float64) (from, to int) {
	for i, j := 0, 0; j < len(c); j++ {
		for float64(c[j]-c[i]) > span {
			i++
		}
		if j+1-i >= to-from {
			from, to = i, j+1
		}
	}
	return from, to
}

func spread(sorted []float32, m float64) float64 {
	var buf [kept]float64
	d := buf[:len(sorted)]
	for i, v := range sorted {
		d[i] = math.Abs(float64(v) - m)
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// step gives the finest difference between sorted values: what the sensor
// rounds to, or less than its noise.
func step(sorted []float32) float64 {
	finest := 0.0
	for i := 1; i < len(sorted); i++ {
		if d := float64(sorted[i] - sorted[i-1]); d > roundingC && (finest == 0 || d < finest) {
			finest = d
		}
	}
	return finest
}

// roundingC is how far apart, °C, two equal readings may lie by the rounding of
// their numbers.
const roundingC = 1e-3
