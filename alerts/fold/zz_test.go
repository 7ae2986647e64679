package fold_test

import (
	"heaterd/alerts/fold"
	"testing"
)

func BenchmarkSnap(b *testing.B) {
	f := benchFleet(1000)
	engine, d := fold.New(f, fold.DefaultRules()), newFeed(f)
	for range 3000 * 1000 {
		engine.Step(d.next())
	}
	b.Run("snap", func(b *testing.B) {
		for b.Loop() {
			s, _ := engine.Snapshot()
			b.ReportMetric(float64(len(s))/1000, "B/heater")
		}
	})
	s, _ := engine.Snapshot()
	b.Run("restore", func(b *testing.B) {
		for b.Loop() {
			e := fold.New(f, fold.DefaultRules())
			if err := e.Restore(s); err != nil {
				b.Fatal(err)
			}
		}
	})
}
