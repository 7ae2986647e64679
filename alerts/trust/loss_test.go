package trust

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// The share is found within a third, whatever it is, and an outage is none of it.
func TestLossIsTheShareThatDoesNotCome(t *testing.T) {
	for _, share := range []float64{0, 0.05, 0.2} {
		r := rand.New(rand.NewPCG(1, 2))
		var l Loss
		span, sum, n := time.Duration(0), 0.0, 0
		for i := range 20_000 {
			span += 2 * time.Minute
			if i%5000 == 4999 {
				span += 12 * time.Hour
			}
			if r.Float64() < share {
				continue
			}
			l.Note(span, 2*time.Minute)
			span = 0
			sum, n = sum+float64(l), n+1
		}
		if got := sum / float64(n); math.Abs(got-share) > share/3 {
			t.Errorf("%v lost: found %v", share, got)
		}
	}
}
