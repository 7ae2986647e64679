//go:build unix

package fold_test

import (
	"bytes"
	"fmt"
	"math"
	"syscall"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/senml"
)

// feed makes the readings of a fleet, one a heater each 30 s, without
// allocating: burns of 20 minutes in 40, CO and temperature that follow.
type feed struct {
	packs []reading.Pack
	lines []record.Line
	i     int
	round int64
}

func newFeed(f fleet.Fleet) *feed {
	d := &feed{packs: make([]reading.Pack, len(f.Heaters)), lines: make([]record.Line, len(f.Heaters))}
	for i := range f.Heaters {
		d.packs[i] = reading.Pack{Node: f.Heaters[i].Node, Samples: make([]reading.Sample, 1)}
		d.lines[i] = record.Line{Pack: &d.packs[i]}
	}
	return d
}

func (d *feed) next() record.Line {
	if d.i == len(d.packs) {
		d.i = 0
		d.round++
	}
	i := d.i
	d.i++
	phase := (d.round + int64(i)) % 80
	lit := phase < 40
	at := benchStart.Add(time.Duration(d.round*30)*time.Second + time.Duration(i)*30*time.Second/time.Duration(len(d.packs)))
	x := reading.Sample{At: at, Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp}
	burned := (d.round + int64(i)) / 80 * 40 * 30
	if lit {
		x.On = reading.Flame
		x.Runtime, x.Temp = float64(burned+phase*30), 10+float32(phase)/20
	} else {
		x.Runtime, x.Temp = float64(burned+40*30), 14-float32(phase)/20
	}
	x.CO = 5 + float32(math.Abs(float64(phase-40)))/10
	d.packs[i].Samples[0] = x
	d.lines[i].At = at.Add(200 * time.Millisecond)
	return d.lines[i]
}

var decodeNs float64

// cpu is what this process has computed so far: on a machine that others use
// too, the clock on the wall measures them.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// report gives the cost of one sample in processor time.
func report(b *testing.B, from time.Duration) (ns float64) {
	ns = float64((cpu(b) - from).Nanoseconds()) / float64(b.N)
	b.ReportMetric(ns, "cpu-ns/sample")
	b.ReportMetric(1e9/ns, "samples/cpu-s")
	return ns
}

// BenchmarkDecode is the base line: what it takes to read the messages.
func BenchmarkDecode(b *testing.B) {
	payload := []byte(`[{"bn":"n-07/","bt":1768197600,"n":"flame","vb":true},{"n":"runtime","u":"s","v":71204},{"n":"co","u":"ppm","v":6.2},{"n":"temp","u":"Cel","v":11.4}]`)
	from := cpu(b)
	for b.Loop() {
		if _, err := senml.Decode(payload, senml.Options{Arrived: benchStart, Node: "n-07"}); err != nil {
			b.Fatal(err)
		}
	}
	decodeNs = report(b, from)
}

// BenchmarkFold folds one reading, with its share of the ticks and verdicts.
func BenchmarkFold(b *testing.B) {
	for _, n := range []int{10, 1000, 100_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) { benchFold(b, benchFleet(n)) })
	}
}

// BenchmarkFoldCrowded does it for a thousand heaters, many of a site and of
// a space: what a reading costs is not to grow with how many stand together.
func BenchmarkFoldCrowded(b *testing.B) {
	for _, together := range []int{1, 10, 100, 1000} {
		b.Run(fmt.Sprint(together), func(b *testing.B) { benchFold(b, crowdedFleet(1000, together, together)) })
	}
}

func benchFold(b *testing.B, f fleet.Fleet) {
	engine, d := fold.New(f, fold.DefaultRules()), newFeed(f)
	for range 200 * len(f.Heaters) { // past the first burns and the lateness window
		engine.Step(d.next())
	}
	b.ReportAllocs()
	b.ResetTimer()
	from := cpu(b)
	for b.Loop() {
		engine.Step(d.next())
	}
	ns := report(b, from)
	if decodeNs > 0 {
		b.ReportMetric(ns/decodeNs, "×decode")
	}
	b.ReportMetric(float64(fold.StateBytes(engine)), "state-B/heater")
}

// BenchmarkSnapshot writes and reads the memory of a thousand heaters; the
// base line is to copy as many octets.
func BenchmarkSnapshot(b *testing.B) {
	const n = 1000
	f := benchFleet(n)
	engine, d := fold.New(f, fold.DefaultRules()), newFeed(f)
	for range 3000 * n {
		engine.Step(d.next())
	}
	body, err := engine.Snapshot()
	if err != nil {
		b.Fatal(err)
	}
	b.Run("copy", func(b *testing.B) {
		for b.Loop() {
			_ = bytes.Clone(body)
		}
	})
	b.Run("write", func(b *testing.B) {
		for b.Loop() {
			if _, err := engine.Snapshot(); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(len(body))/n, "B/heater")
	})
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			if err := fold.New(f, fold.DefaultRules()).Restore(body); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// TestReadingAllocatesNothing: between two endings and two looks at the
// service plan, a reading is folded without allocating.
func TestReadingAllocatesNothing(t *testing.T) {
	f := benchFleet(10)
	engine, d := fold.New(f, fold.DefaultRules()), newFeed(f)
	for range 10 * 200 {
		engine.Step(d.next())
	}
	least := 1e9
	for range 12 {
		least = min(least, testing.AllocsPerRun(20, func() { engine.Step(d.next()) }))
	}
	if least > 0 {
		t.Errorf("%v allocations a reading, want 0", least)
	}
}
