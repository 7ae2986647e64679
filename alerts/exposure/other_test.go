package exposure

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Rooms in which something else makes CO too: where a figure is given its range
// holds the truth, as in rooms where nothing else does; where it cannot be told
// there is none.
func TestAirChangesBesideAnotherSource(t *testing.T) {
	for _, c := range []struct {
		name  string
		other func(h float64) bool
		least int // rooms of 40 with a figure
		most  int // of which the range may miss the truth
	}{
		{"nothing else", func(float64) bool { return false }, 36, 3},
		{"all the time", func(float64) bool { return true }, 36, 3},
		{"from 7 to 16 h", func(h float64) bool { return math.Mod(h, 24) > 7 && math.Mod(h, 24) < 16 }, 10, 3},
		{"now and then", func(h float64) bool { return math.Sin(2*h)+math.Sin(3.1*h) > 0.3 }, 15, 3},
	} {
		for _, step := range []float64{30, 300} {
			given, missed := 0, 0
			for i := range uint64(40) {
				rng := rand.New(rand.NewPCG(11, i))
				a := 0.4 * math.Exp(rng.Float64()*math.Log(15))
				d := roomWithAnotherSource(rng, a, step, c.other)
				got, ok := d.AirChange()
				if ok {
					given++
				}
				if ok && (a < got.Low || a > got.High) {
					missed++
				}
			}
			t.Logf("%s, every %v s: a figure in %d of 40 rooms, %d miss the truth", c.name, step, given, missed)
			if given < c.least || missed > c.most {
				t.Errorf("%s, every %v s: a figure in %d of 40 rooms, %d miss the truth", c.name, step, given, missed)
			}
		}
	}
}

// roomWithAnotherSource is two days of a heater that cycles in a room, half of
// them by day only, beside a source that would lead to 40 ppm by itself.
func roomWithAnotherSource(rng *rand.Rand, a, step float64, other func(h float64) bool) Decay {
	const otherPPM, tick = 40, 10
	bg, height := 5*rng.Float64(), 25*math.Exp(rng.Float64()*math.Log(5))
	on, off := 600+1800*rng.Float64(), 900+2700*rng.Float64()
	byDay, phase, next := rng.IntN(2) == 0, 3600*rng.Float64(), step*rng.Float64()
	var d Decay
	r := room{c: bg, a: a, bg: bg}
	if other(0) {
		r.c += otherPPM
	}
	for x := 0.0; x < 48*3600; x += tick {
		h, s := x/3600, 0.0
		lit := h > 0.5 && !(byDay && math.Mod(h, 24) > 14) && math.Mod(x+phase, on+off) < on
		if lit {
			s += height * a
		}
		if other(h) {
			s += otherPPM * a
		}
		if r.step(tick, s); x >= next {
			next += step
			d.Apply(epoch.AddSeconds(x), math.Round(r.c+0.7*rng.NormFloat64()), lit)
		}
	}
	return d
}

// CO that rises with all flames out has another source. What was known of the
// background counts no more for a week.
func TestARiseWithAllFlamesOutTellsOfAnotherSource(t *testing.T) {
	var d Decay
	d.Apply(epoch, 20, true)
	for x := 60.0; x < 3600; x += 60 {
		d.Apply(epoch.AddSeconds(x), 20, false)
	}
	if d.otherSource() {
		t.Error("steady air tells of another source")
	}
	for x := 3600.0; x < 7200; x += 60 {
		d.Apply(epoch.AddSeconds(x), 20+(x-3600)/300, false)
	}
	if !d.otherSource() || d.floor().err != backgroundOther {
		t.Errorf("a rise of 12 ppm in an hour tells of none: %+v", d.floor())
	}
	d.Apply(epoch.AddSeconds(7200+otherSeconds+60), 20, true)
	if d.otherSource() {
		t.Error("a sign of a week ago counts")
	}
}
