package main

import (
	"bytes"
	"context"
	goflag "flag"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"heaterd/alerts"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// BenchmarkMemory is what the engine holds for each of 100,000 heaters after
// five minutes of readings every 30 s.
func BenchmarkMemory(b *testing.B) {
	const heaters, rounds = 100_000, 10
	for b.Loop() {
		f := bigFleet(heaters)
		before := heap()
		e := fold.New(f, fold.DefaultRules())
		empty := heap()
		start := time.Now()
		bigLoad(heaters, rounds, func(lines []record.Line) {
			for _, l := range lines {
				e.Step(l)
			}
		})
		b.ReportMetric(time.Since(start).Seconds()*1e6/heaters/rounds, "µs/reading")
		b.ReportMetric(float64(empty-before)/heaters, "bytes/heater-configured")
		b.ReportMetric(float64(heap()-before)/heaters, "bytes/heater-heard")
		runtime.KeepAlive(e)
		runtime.KeepAlive(f)
	}
}

func heap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// BenchmarkRestart is the time from opening the store of 10,000 heaters to an
// engine that has caught up, with the memory kept at an orderly stop; beside
// it, reading the same bytes and nothing else. What is compacted is not read
// at a start, so an hour of it stands for a season; -hours 720 writes thirty days.
func BenchmarkRestart(b *testing.B) {
	const heaters, rounds = 10_000, 120
	path := filepath.Join(b.TempDir(), "h.db")
	f := bigFleet(heaters)
	s := openStore(b, path)
	bigLoad(heaters, rounds, func(lines []record.Line) {
		if _, err := s.Keep(b.Context(), store.Batch{Lines: lines}); err != nil {
			b.Fatal(err)
		}
	})
	kept := followBench(b, s, f)
	if _, err := s.Compact(b.Context(), kept+1, reading.Instant(1<<62), heaters*rounds); err != nil {
		b.Fatal(err)
	}
	season(b, s, *seasonHours)
	_ = s.Close()
	if info, err := os.Stat(path); err == nil {
		b.Logf("%d heaters, %d h compacted, a file of %d MB", heaters, *seasonHours, info.Size()>>20)
	}
	for b.Loop() {
		start := time.Now()
		s := openStore(b, path)
		opened := time.Since(start)
		followBench(b, s, f)
		b.ReportMetric(time.Since(start).Seconds(), "s-to-ready-and-kept-again")
		b.ReportMetric(opened.Seconds(), "s-to-open")
		measureSnapshot(b, s, f)
		_ = s.Close()
	}
}

var seasonHours = goflag.Int("hours", 1, "hours of compacted readings in BenchmarkRestart")

// season repeats the newest compacted hour until there are so many.
func season(b *testing.B, s *store.Store, hours int) {
	b.Helper()
	var newest int
	if err := s.Reader().QueryRowContext(b.Context(), `SELECT MAX(hour) FROM block`).Scan(&newest); err != nil {
		b.Fatal(err)
	}
	for h := 1; h < hours; h++ {
		for _, q := range []string{
			`INSERT OR IGNORE INTO block SELECT b.node, b.hour - $2, b.body FROM node n JOIN block b ON b.node = n.id AND b.hour = $1`,
			`INSERT OR IGNORE INTO hour SELECT h.node, h.hour - $2, samples, seen_s, lit_s, co_n, co_min, co_sum, co_max, temp_n, temp_min, temp_sum, temp_max
				FROM node n JOIN hour h ON h.node = n.id AND h.hour = $1`,
		} {
			if _, err := s.Writer().ExecContext(b.Context(), q, newest, h); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func followBench(b *testing.B, s *store.Store, f fleet.Fleet) (kept int64) {
	b.Helper()
	ctx, cancel := context.WithCancel(b.Context())
	defer cancel()
	w := alerts.New(alerts.Options{Log: s, Growth: endOfLog{cancel}, Ledger: ledger.New(s), Engine: fold.New(f, fold.DefaultRules()), Logger: silent})
	if err := w.Run(ctx); err != nil {
		b.Fatal(err)
	}
	return w.Kept()
}

func measureSnapshot(b *testing.B, s *store.Store, f fleet.Fleet) {
	b.Helper()
	start := time.Now()
	_, body, ok, err := s.LoadSnapshot(b.Context(), "engine")
	if err != nil || !ok {
		b.Fatal("no snapshot", err)
	}
	read := time.Since(start)
	e := fold.New(f, fold.DefaultRules())
	start = time.Now()
	if err := e.Restore(body); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(read.Seconds(), "s-to-read-snapshot")
	b.ReportMetric(time.Since(start).Seconds(), "s-to-restore")
	start = time.Now()
	if again, err := e.Snapshot(); err != nil || !bytes.Equal(again, body) {
		b.Logf("the snapshot differs after a restore, %v", err)
	}
	b.ReportMetric(time.Since(start).Seconds(), "s-to-take")
	b.ReportMetric(float64(len(body))/float64(len(f.Heaters)), "snapshot-bytes/heater")
}
