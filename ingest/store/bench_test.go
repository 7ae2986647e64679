//go:build unix

package store_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// measured is what a node with usual resolutions sends: CO to 0.1 ppm,
// temperature to 0.01 °C, run time to the second.
func measured(node, i int, at reading.Instant) record.Line {
	lit := i/180%3 != 0
	s := reading.Sample{At: at, Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp,
		Runtime: float64(i * 7), CO: float32(math.Round(10*(8+6*math.Sin(float64(i)/90))) / 10),
		Temp: float32(math.Round(100*(11+3*math.Sin(float64(i+node)/40))) / 100)}
	if lit {
		s.On = reading.Flame
	}
	return record.Line{At: at.Add(130 * time.Millisecond), Pack: &reading.Pack{
		Node: reading.NodeID(fmt.Sprintf("n-%02d", node)), Samples: []reading.Sample{s}, Within: 30 * time.Second}}
}

// fill appends n single-sample packs of the nodes in turn, each node's every s
// seconds, and gives the last instant.
func fill(b *testing.B, s *store.Store, n, nodes int, every float64) reading.Instant {
	b.Helper()
	at := noon
	lines := make([]record.Line, 0, 4096)
	for i := range n {
		at = noon.AddSeconds(float64(i/nodes) * every)
		lines = append(lines, measured(i%nodes, i/nodes, at))
		if len(lines) == cap(lines) || i == n-1 {
			mustAppend(b, s, lines...)
			lines = lines[:0]
		}
	}
	return at
}

func compactAll(b *testing.B, s *store.Store, batch int) {
	b.Helper()
	for passed := 1; passed > 0; {
		var err error
		if passed, err = s.Compact(b.Context(), forever.Time().UnixMicro(), forever, batch); err != nil {
			b.Fatal(err)
		}
	}
}

// cpu is the time this process has had on the processors.
func cpu() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func BenchmarkAppend(b *testing.B) {
	for _, size := range []int{1, 16, 256, 1024} {
		b.Run(fmt.Sprint("batch=", size), func(b *testing.B) {
			s := fresh(b)
			lines := make([]record.Line, size)
			i := 0
			b.ReportAllocs()
			before := cpu()
			for b.Loop() {
				for j := range lines {
					lines[j] = measured(i%100, i/100, noon.AddSeconds(float64(i)/10))
					i++
				}
				mustAppend(b, s, lines...)
			}
			b.ReportMetric(float64(b.N*size)/b.Elapsed().Seconds(), "rows/s")
			b.ReportMetric((cpu()-before).Seconds()*1e6/float64(b.N*size), "µs-cpu/row")
		})
	}
}

// BenchmarkSeason reads one of 100 nodes out of 1.5 million rows, before and
// after compaction.
func BenchmarkSeason(b *testing.B) {
	path := filepath.Join(b.TempDir(), "h.db")
	s := open(b, path)
	end := fill(b, s, 1_500_000, 100, 30) // five days of 100 nodes
	size := func(what string) {
		if _, err := s.Writer().Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
			b.Fatal(err)
		}
		info, _ := os.Stat(path)
		b.Logf("%s: %.1f bytes per sample", what, float64(info.Size())/1_500_000)
	}
	size("in the log")
	run := func(name string, from reading.Instant) {
		b.Run(name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				n = len(samples(b, s, "n-42", from, end))
			}
			b.ReportMetric(float64(n), "samples")
		})
	}
	run("log/day", end.Add(-24*time.Hour))
	run("log/all", noon)
	start := time.Now()
	compactAll(b, s, 20_000)
	b.Logf("compacted 1.5 million in %v", time.Since(start))
	copyOf := filepath.Join(b.TempDir(), "copy.db")
	if err := s.Backup(b.Context(), copyOf); err != nil {
		b.Fatal(err)
	}
	info, _ := os.Stat(copyOf)
	b.Logf("in blocks: %.2f bytes per sample of 4 values", float64(info.Size())/1_500_000)
	run("blocks/day", end.Add(-24*time.Hour))
	run("blocks/all", noon)
}

// BenchmarkSeasonChart charts 1.5 million readings of one node, half a year at
// 10 s.
func BenchmarkSeasonChart(b *testing.B) {
	s := fresh(b)
	end := fill(b, s, 1_500_000, 1, 10)
	for _, when := range []string{"log", "blocks"} {
		if when == "blocks" {
			compactAll(b, s, 20_000)
			fillMore(b, s, end)
		}
		for _, step := range []time.Duration{time.Hour, 24 * time.Hour} {
			b.Run(fmt.Sprint(when, "/", step), func(b *testing.B) {
				for b.Loop() {
					if _, err := s.Rollup(b.Context(), "n-00", noon, end, step); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
	b.Run("every sample", func(b *testing.B) {
		for b.Loop() {
			n := 0
			if err := s.Samples(b.Context(), "n-00", noon, end, func(reading.Sample) bool { n++; return true }); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// fillMore adds the last hours that are not yet compacted.
func fillMore(b *testing.B, s *store.Store, end reading.Instant) {
	b.Helper()
	for i := range 6 * 360 {
		mustAppend(b, s, measured(0, i, end.AddSeconds(float64(-10*i))))
	}
}

// BenchmarkAppendWhileCompacting is how long one line takes to be kept, alone
// and while 300,000 packs of 1000 nodes are compacted.
func BenchmarkAppendWhileCompacting(b *testing.B) {
	for b.Loop() {
		s := fresh(b)
		fill(b, s, 300_000, 1000, 30)
		last := s.Last()
		done := make(chan struct{})
		alone := latencies(b, s, func() bool { return false })
		start := time.Now()
		go func() {
			defer close(done)
			for passed := 1; passed > 0; {
				var err error
				if passed, err = s.Compact(b.Context(), last, forever, 20_000); err != nil {
					b.Error(err)
					return
				}
			}
		}()
		busy := latencies(b, s, func() bool {
			select {
			case <-done:
				return true
			default:
				return false
			}
		})
		<-done
		b.ReportMetric(300_000/time.Since(start).Seconds(), "compacted-lines/s")
		for name, all := range map[string][]time.Duration{"alone": alone, "busy": busy} {
			b.ReportMetric(all[len(all)/2].Seconds()*1e3, name+"-ms-median")
			b.ReportMetric(all[len(all)*99/100].Seconds()*1e3, name+"-ms-p99")
		}
		_ = s.Close()
	}
}

// latencies appends single lines, one every few milliseconds, until over or
// 300 of them, and gives how long each took, sorted.
func latencies(b *testing.B, s *store.Store, over func() bool) (all []time.Duration) {
	b.Helper()
	for len(all) < 300 && (len(all) < 50 || !over()) {
		start := time.Now()
		mustAppend(b, s, measured(0, len(all), forever/2))
		all = append(all, time.Since(start))
		<-time.After(5 * time.Millisecond)
	}
	slices.Sort(all)
	return all
}
