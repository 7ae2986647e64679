package exposure

import (
	"cmp"
	"math"
	"slices"
)

// How the rates of several decays make one figure. Common practice, no source.
const (
	goodDecays   = 12   // decays the reported figure is taken from
	ratesShare   = 0.68 // share of the rates that should lie within one standard error of their middle,
	ratesLoose   = 1.3  // × it: further apart by chance
	spoiltShare  = 0.8  // the same share where something else makes CO, which spoils falls one by one,
	spoiltLeast  = 1.6  // × the standard error: the range is no narrower
	spoiltRates  = 3    // and the decays that it takes
	ratesMostOff = 0.5  // most half width of the range, as a share of the rate
)

type decayRate struct {
	PerH float32 // 1/h
	SE   float32 // 1/h
}

// AirChange is the ventilation of a space with its confidence range.
type AirChange struct {
	PerH      float64 // air changes per hour
	Low, High float64 // about 95 %, background error and what the decays differ by included
	Decays    int     // decays it rests on
}

// AirChange gives the air changes of the space: the median of the good
// decays, each counting by its certainty, the one under way included. False
// where no decay was good enough to tell, or they do not agree.
func (d *Decay) AirChange() (AirChange, bool) {
	var all [goodDecays + 1]decayRate
	n := copy(all[:], d.GoodRates[:d.Kept])
	if f, ok := d.fit(); ok {
		all[n] = f.rate()
		n++
	}
	if n == 0 || n < spoiltRates && d.otherSource() {
		return AirChange{}, false
	}
	r := median(all[:n])
	half := 2 * float64(r.SE) * d.wider(all[:n], r)
	return AirChange{
		PerH: float64(r.PerH), Low: float64(r.PerH) - half, High: float64(r.PerH) + half, Decays: n,
	}, half <= ratesMostOff*float64(r.PerH)
}

// median sorts by rate and gives the one in the middle of the weight.
func median(r []decayRate) decayRate {
	slices.SortFunc(r, func(a, b decayRate) int { return cmp.Compare(a.PerH, b.PerH) })
	var total, upTo float64
	for _, x := range r {
		total += x.weight()
	}
	for _, x := range r {
		if upTo += x.weight(); upTo >= total/2 {
			return x
		}
	}
	return r[len(r)-1]
}

// weight goes by the error as a share of the rate: most of what spoils a decay
// is in proportion, and by the error itself the slowest would always win.
func (r decayRate) weight() float64 {
	x := float64(r.PerH / r.SE)
	return x * x
}

// wider gives how many times wider than its own error the range about the median
// must be for the rates to lie in theirs; at least once.
func (d *Decay) wider(rates []decayRate, mid decayRate) float64 {
	var all [goodDecays + 1]float64
	off := all[:len(rates)]
	for i, r := range rates {
		off[i] = math.Abs(math.Log(float64(r.PerH/mid.PerH))) * float64(r.PerH/r.SE)
	}
	slices.Sort(off)
	if d.otherSource() {
		return max(share(off, spoiltShare), spoiltLeast)
	}
	return max(share(off, ratesShare)/ratesLoose, 1)
}

// share gives the value that this share of the sorted ones does not exceed.
func share(sorted []float64, p float64) float64 {
	return sorted[int(math.Ceil(p*float64(len(sorted))))-1]
}
