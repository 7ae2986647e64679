package exposure

import (
	"math"
	"testing"
)

// The weights kept ready are those that would be worked out, to the last bit.
func TestFadedIsExact(t *testing.T) {
	for _, memory := range []float64{trendMemoryMin, 8} {
		for us := int64(0); us < 130e6; us += 250_000 {
			dt := float64(us) / microPerSec / secondsPerMinute
			line := trend{Memory: memory}
			if got, want := line.fade(dt), math.Exp(-dt/memory); got != want {
				t.Fatalf("after %v min of %v: %v, want %v", dt, memory, got, want)
			}
		}
	}
}
