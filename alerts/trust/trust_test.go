package trust

import (
	"math"
	"strings"
	"testing"
	"time"
	"unsafe"

	"pgregory.net/rapid"
)

func TestCadenceLearnsThroughLossAndBursts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		step := draw(t, "step", 10*time.Second, 30*time.Minute)
		var c Cadence
		at := epoch
		for i := range 40 {
			at = at.Add(step)
			lost := i%5 == 3
			if !lost {
				c.Observe(at)
				c.Observe(at) // sent again
			}
			if i%11 == 7 {
				c.Observe(at.Add(time.Second)) // an extra one when the flame changed
			}
		}
		if got := c.Expected(0); got < step-2*time.Second || got > step+2*time.Second {
			t.Fatalf("learned %v, want %v", got, step)
		}
	})
}

func TestCadenceTakesThePromise(t *testing.T) {
	var c Cadence
	for _, x := range []struct{ promised, want time.Duration }{
		{0, firstInterval}, {90 * time.Second, 90 * time.Second},
		{time.Millisecond, shortestInterval}, {24 * time.Hour, longestInterval},
	} {
		if got := c.Expected(x.promised); got != x.want {
			t.Errorf("promised %v: %v, want %v", x.promised, got, x.want)
		}
	}
}

func TestSilentAfter(t *testing.T) {
	for _, x := range []struct {
		readings, packs time.Duration
		lost            Loss
		want            time.Duration
	}{
		{30 * time.Second, 30 * time.Second, 0, 5 * time.Minute},
		{30 * time.Second, 30 * time.Second, 0.05, 5 * time.Minute},
		{2 * time.Minute, 2 * time.Minute, 0, 6 * time.Minute},
		{2 * time.Minute, 2 * time.Minute, 0.01, 7 * time.Minute},
		{2 * time.Minute, 2 * time.Minute, 0.05, 11 * time.Minute},
		{2 * time.Minute, 2 * time.Minute, 0.5, 21 * time.Minute},
		{30 * time.Second, 10 * time.Minute, 0.5, 30 * time.Minute},
		{30 * time.Second, 20 * time.Minute, 0.5, time.Hour},
	} {
		if got := SilentAfter(x.readings, x.packs, x.lost); got != x.want {
			t.Errorf("%v, %v, %v lost: %v, want %v", x.readings, x.packs, x.lost, got, x.want)
		}
	}
}

func TestSiteSilent(t *testing.T) {
	word := func(ago time.Duration) Word { return Word{Last: epoch.Add(-ago), After: 5 * time.Minute} }
	for _, x := range []struct {
		name  string
		words []Word
		want  bool
	}{
		{"none", nil, false},
		{"one node is no site", []Word{word(time.Hour)}, false},
		{"together", []Word{word(time.Hour), word(58 * time.Minute), word(61 * time.Minute)}, true},
		{"one still speaks", []Word{word(time.Hour), word(time.Minute)}, false},
		{"one by one", []Word{word(time.Hour), word(3 * time.Hour)}, false},
		{"one was silent for long", []Word{word(time.Hour), word(59 * time.Minute), word(100 * time.Hour)}, true},
		{"one was never heard", []Word{word(time.Hour), {After: time.Minute}, word(time.Hour)}, true},
	} {
		if _, got := SiteSilent(x.words, epoch); got != x.want {
			t.Errorf("%s: %v", x.name, got)
		}
	}
}

func TestCOSensorSuspect(t *testing.T) {
	run := func(n int, f func(i int) (float32, bool)) (string, bool) {
		var s COSensor
		for i := range n {
			ppm, lit := f(i)
			s.Apply(epoch.Add(time.Duration(i)*time.Minute), ppm, lit)
		}
		return s.Suspect()
	}
	cycling := func(i int) bool { return i%60 < 30 }
	for _, x := range []struct {
		name string
		n    int
		f    func(i int) (float32, bool)
		want string
	}{
		{"moving", 3000, func(i int) (float32, bool) { return float32(i % 7), cycling(i) }, ""},
		{"clean air", 3000, func(i int) (float32, bool) { return 0, cycling(i) }, ""},
		{"stuck beside a cycling flame", 361, func(i int) (float32, bool) { return 12, cycling(i) }, "stuck"},
		{"not yet", 359, func(i int) (float32, bool) { return 12, cycling(i) }, ""},
		{"steady flame", 700, func(i int) (float32, bool) { return 12, true }, ""},
		{"stuck whatever the flame does", 1441, func(i int) (float32, bool) { return 12, true }, "stuck"},
		{"small drift", 60, func(i int) (float32, bool) { return -2, true }, ""},
		{"drift", 60, func(i int) (float32, bool) { return -4 - float32(i%2), true }, "zero drift"},
		{"one odd reading", 60, func(i int) (float32, bool) { return float32(-9 * (i / 59)), true }, ""},
		{"plunged", 30, func(i int) (float32, bool) { return max(0, float32(150*(25-i))) / max(1, float32(25-i)), true }, "faster than any air clears"},
		{"plunged through its filter", 50, func(i int) (float32, bool) {
			if i < 20 {
				return 2, true
			}
			return []float32{150, 60, 22, 8, 3, 0}[min(i-20, 5)], true
		}, "from 150 ppm"},
		{"fell fast to the zero that it reads in clean air", 50, func(i int) (float32, bool) { return []float32{0, 150, 60, 22, 8, 3, 0}[min(max(i-20, 0), 6)], true }, ""},
		{"plunged, and strays about zero", 30, func(i int) (float32, bool) {
			if i < 25 {
				return 150, true
			}
			return float32(-(i % 2)), true
		}, "from 150 ppm to 0"},
		{"cleared as fast as air may be", 30, func(i int) (float32, bool) { return float32(math.Round(200 * math.Exp(-40.0/60*float64(i)))), true }, ""},
		{"above range", 20, func(i int) (float32, bool) { return 1200 + float32(i), true }, "treat it as real"},
	} {
		text, ok := run(x.n, x.f)
		if ok != (x.want != "") || !strings.Contains(text, x.want) {
			t.Errorf("%s: %q %v, want %q", x.name, text, ok, x.want)
		}
	}
}

func TestSizes(t *testing.T) {
	t.Logf("Clock %d, Cadence %d, COSensor %d bytes", unsafe.Sizeof(Clock{}), unsafe.Sizeof(Cadence{}), unsafe.Sizeof(COSensor{}))
	var c Clock
	var k Cadence
	var s COSensor
	at := epoch
	n := testing.AllocsPerRun(100, func() {
		at = at.Add(time.Minute)
		c.Retime(at, at, 0)
		k.Observe(at)
		s.Apply(at, 3, true)
	})
	if n != 0 {
		t.Errorf("%v allocations", n)
	}
}
