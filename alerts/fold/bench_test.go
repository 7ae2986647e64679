package fold_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/senml"
)

const benchStart = reading.Instant(1_768_197_600_000_000)

// benchFleet is n heaters, five a site and each in a space of its own.
func benchFleet(n int) fleet.Fleet {
	var f fleet.Fleet
	above := 5.0
	for i := range n {
		site := fmt.Sprintf("site-%d", i/5)
		if i%5 == 0 {
			s := fleet.Site{ID: site, Zone: time.UTC}
			s.Limits.CeilingPPM, s.Limits.ShiftPPM = 200, 35
			f.Sites = append(f.Sites, s)
		}
		s := &f.Sites[len(f.Sites)-1]
		s.Spaces = append(s.Spaces, fleet.Space{ID: fmt.Sprintf("space-%d", i%5), ProtectAboveC: &above})
		f.Heaters = append(f.Heaters, fleet.Heater{
			ID: fmt.Sprintf("H-%d", i), Node: reading.NodeID(fmt.Sprintf("n-%d", i)), Site: site,
			Space: fmt.Sprintf("space-%d", i%5), TankL: 52, BurnLPerH: 4.4,
			Thermostat: &fleet.Thermostat{SetpointC: 12, DifferentialC: 2},
		})
	}
	return f
}

// feed makes the readings of a fleet, one a heater each 30 s, without
// allocating: burns of 20 minutes in 40, CO and temperature that follow.
type feed struct {
	nodes []reading.NodeID
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

var bencher struct {
	decodeNs, foldNs float64
}

// BenchmarkDecode is the base line: what it takes to read the messages.
func BenchmarkDecode(b *testing.B) {
	payload := []byte(`[{"bn":"n-07/","bt":1768197600,"n":"flame","vb":true},{"n":"runtime","u":"s","v":71204},{"n":"co","u":"ppm","v":6.2},{"n":"temp","u":"Cel","v":11.4}]`)
	for b.Loop() {
		if _, err := senml.Decode(payload, senml.Options{Arrived: benchStart, Node: "n-07"}); err != nil {
			b.Fatal(err)
		}
	}
	bencher.decodeNs = float64(b.Elapsed().Nanoseconds()) / float64(b.N)
	b.ReportMetric(1e9/bencher.decodeNs, "samples/s")
}

// BenchmarkFold folds one reading, with its share of the ticks.
func BenchmarkFold(b *testing.B) {
	for _, n := range []int{10, 1000, 100_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			f := benchFleet(n)
			engine, d := fold.New(f, fold.DefaultRules()), newFeed(f)
			for range 100 * n { // past the first burns and the lateness window
				engine.Step(d.next())
			}
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				engine.Step(d.next())
			}
			perOp := float64(b.Elapsed().Nanoseconds()) / float64(b.N)
			b.ReportMetric(1e9/perOp, "samples/s")
			if bencher.decodeNs > 0 {
				b.ReportMetric(perOp/bencher.decodeNs, "×decode")
			}
			b.ReportMetric(float64(fold.StateBytes(engine)), "state-B/heater")
		})
	}
}

func TestSizes(t *testing.T) { t.Log(fold.Sizes()) }
