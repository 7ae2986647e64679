package exposure

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The search for the rate finds what a walk over ten thousand rates finds.
func TestBestFindsTheLeastLeftOver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Decay{Lowest: 100, Known: rapid.Bool().Draw(t, "known")}
		d.Level = float32(rapid.Float64Range(0, 10).Draw(t, "level"))
		k, bg := math.Exp(rapid.Float64Range(math.Log(0.1), math.Log(30)).Draw(t, "ln rate")), float64(d.Level)
		height := rapid.Float64Range(5, 300).Draw(t, "height")
		noise := rapid.Float64Range(0, 1.5).Draw(t, "noise")
		gap := rapid.Float64Range(60, 300).Draw(t, "gap")
		n := rapid.IntRange(decayMinBins, decayBins).Draw(t, "bins")
		for i := range n {
			at := 150 + gap*float64(i)
			c := bg + height*math.Exp(-k*(at-150)/3600) + noise*rapid.Float64Range(-1, 1).Draw(t, "scatter")
			d.Fall[i] = decayBin{T: float32(at), C: float32(c), N: float32(rapid.IntRange(1, 4).Draw(t, "readings"))}
			d.Lowest = min(d.Lowest, float32(c))
		}
		bins := d.Fall[:n]
		d.N = uint8(n)
		got := best(bins, d.floor())
		least := fall{rest: math.Inf(1)}
		for i := range 10_000 {
			if f := curve(bins, decaySlowest*math.Pow(decayFastest/decaySlowest, float64(i)/9999), d.floor()); f.rest < least.rest {
				least = f
			}
		}
		if inside := least.k > decaySlowest*1.001 && least.k < decayFastest*0.999; !inside {
			return
		}
		if got.rest > least.rest*1.0001+1e-6 && math.Abs(got.k/least.k-1) > 2e-3 {
			t.Fatalf("found %v/h leaving %v, there is %v/h leaving %v", got.k, got.rest, least.k, least.rest)
		}
	})
}
