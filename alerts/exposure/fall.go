package exposure

import "math"

// fall is the curve C = b + a·e^(−k·t) fitted to the bins of one decay. For
// a background that is known it is the least-squares slope of ln(C − b) with
// each reading weighted as it scatters; where the background is only roughly
// known, the curve's own tail narrows it.
type fall struct {
	k, b, a float64 // 1/h, ppm, ppm at the first bin
	hours   float64 // length
	rest    float64 // weighted squares left over, ppm²
	se      float64 // standard error of k, 1/h
}

func (f fall) rate() decayRate { return decayRate{PerH: float32(f.k), SE: float32(f.se)} }

// fit gives the fall seen so far; false where it is not good enough to tell.
func (d *Decay) fit() (fall, bool) {
	bins := d.Fall[:d.N]
	if len(bins) < decayMinBins || bins[len(bins)-1].T-bins[0].T < decayMinSeconds {
		return fall{}, false
	}
	f := d.best(bins)
	n, squares := spreadOf(bins)
	f.se = d.error(bins, f)
	enough := n >= decayMinReadings && f.a >= DecayMarginPPM
	clear := f.k*f.hours >= math.Log(decayFall) || 1-f.rest/squares >= decayMinR2
	inside := f.k > decaySlowest && f.k < decayFastest
	return f, enough && clear && inside && f.se <= decayMostSE*f.k
}

func spreadOf(bins []decayBin) (n, squares float64) {
	var mean float64
	for _, b := range bins {
		n += float64(b.N)
		mean += float64(b.N) * float64(b.C)
	}
	mean /= n
	for _, b := range bins {
		squares += float64(b.N) * (float64(b.C) - mean) * (float64(b.C) - mean)
	}
	return n, squares
}

// goldenSteps narrow the rate to a few parts in ten thousand, far inside what
// the scatter of readings leaves open.
const goldenSteps = 16

// best searches the rate whose curve leaves least over: a coarse walk over
// all rates that can be, then a golden section between its neighbours.
func (d *Decay) best(bins []decayBin) fall {
	const steps = 24
	ratio := math.Pow(decayFastest/decaySlowest, 1.0/steps)
	k := decaySlowest
	best := d.curve(bins, k)
	for range steps {
		k *= ratio
		if f := d.curve(bins, k); f.rest < best.rest {
			best = f
		}
	}
	return d.narrow(bins, best.k/ratio, best.k*ratio)
}

// narrow is the golden section between two rates; one curve of each step
// serves the next as well.
func (d *Decay) narrow(bins []decayBin, low, high float64) fall {
	const golden = 2 - math.Phi
	a, b := d.curve(bins, low+golden*(high-low)), d.curve(bins, high-golden*(high-low))
	for range goldenSteps {
		if a.rest < b.rest {
			high, b = b.k, a
			a = d.curve(bins, low+golden*(high-low))
		} else {
			low, a = a.k, b
			b = d.curve(bins, high-golden*(high-low))
		}
	}
	if a.rest < b.rest {
		return a
	}
	return b
}

// curve solves the two linear terms for one rate, the background drawn
// towards what is known of it.
func (d *Decay) curve(bins []decayBin, k float64) fall {
	level, err := d.background()
	pull := decayNoisePPM * decayNoisePPM / (err * err)
	f := fall{k: k, hours: float64(bins[len(bins)-1].T-bins[0].T) / 3600}
	n, y := pull, pull*level
	var e1, e2, ye float64
	var shares [decayBins]float64 // the exponentials cost the most: once each
	for i, b := range bins {
		e, w := f.share(b, bins[0]), float64(b.N)
		shares[i] = e
		n, y = n+w, y+w*float64(b.C)
		e1, e2, ye = e1+w*e, e2+w*e*e, ye+w*e*float64(b.C)
	}
	f.b = (y*e2 - ye*e1) / (n*e2 - e1*e1)
	if !d.Given {
		f.b = min(f.b, float64(d.Lowest)+decayNoisePPM)
	}
	f.a = (ye - f.b*e1) / e2
	f.rest = pull * (f.b - level) * (f.b - level)
	for i, b := range bins {
		r := float64(b.C) - f.b - f.a*shares[i]
		f.rest += float64(b.N) * r * r
	}
	return f
}

// share is the part of the first height that is left at a bin.
func (f fall) share(b, first decayBin) float64 {
	return math.Exp(-f.k * float64(b.T-first.T) / 3600)
}

// error gives the standard error of the rate from how sharply the left-over
// rises beside it, the background's part included.
func (d *Decay) error(bins []decayBin, f fall) float64 {
	const h = 0.02
	up, down := d.curve(bins, f.k*(1+h)), d.curve(bins, f.k*(1-h))
	bend := (up.rest + down.rest - 2*f.rest) / (h * f.k * h * f.k)
	if bend <= 0 {
		return math.Inf(1)
	}
	noise := max(f.rest/float64(len(bins)-2), decayNoisePPM*decayNoisePPM)
	return math.Hypot(math.Sqrt(2*noise/bend), decaySystematic*f.k)
}
