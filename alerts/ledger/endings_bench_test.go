package ledger

import (
	"testing"
	"time"

	"heaterd/alerts/outcome"
)

// BenchmarkEndings reads how the burns of one heater's season ended, beside
// reading the burns whole.
func BenchmarkEndings(b *testing.B) {
	l := open(b)
	var season Batch
	for i := range 1350 {
		start := time.Duration(i) * 96 * time.Minute
		r := burn("H-07", start, start+40*time.Minute, outcome.Satisfied, true)
		r.Evidence = []string{"the space had warmed to 13.9 °C, its set point is 14 °C", "it burned for 40 min, as it usually does", "the unit was heard all the time"}
		season.Burns = append(season.Burns, r)
	}
	must(b, l.Commit(ctx, season))
	b.Run("burns", func(b *testing.B) {
		for b.Loop() {
			if _, err := l.Burns(ctx, "H-07", zero, 0); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("endings", func(b *testing.B) {
		for b.Loop() {
			if _, err := l.Endings(ctx, "H-07", zero, 0); err != nil {
				b.Fatal(err)
			}
		}
	})
}
