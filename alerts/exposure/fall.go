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
	f, ok := d.fitted()
	return f, ok && !f.poor(d.Fall[:d.N])
}

// fitted gives the curve that fits best; false where it is no clear fall.
func (d *Decay) fitted() (fall, bool) {
	bins := d.Fall[:d.N]
	if len(bins) < decayMinBins || bins[len(bins)-1].T-bins[0].T < decayMinSeconds {
		return fall{}, false
	}
	to := d.floor()
	f := best(bins, to)
	n, squares := spreadOf(bins)
	f.se = f.error(bins, to)
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

// The search for a rate: a coarse walk over all that can be, then parabolas
// between neighbours until the rate moves by less than a few parts in ten
// thousand, far inside what the scatter of readings leaves open.
const (
	coarseSteps = 12
	parabolas   = 12
	rateMoves   = 3e-4
)

// best searches the rate whose curve leaves least over.
func best(bins []decayBin, to floor) fall {
	ratio := math.Pow(decayFastest/decaySlowest, 1.0/coarseSteps)
	k := decaySlowest / ratio
	var slower, best, faster, last fall
	best.rest = math.Inf(1)
	for range coarseSteps + 3 { // beyond either end, so that the ends have neighbours
		f := curve(bins, k, to)
		switch {
		case f.rest < best.rest:
			slower, best, faster = last, f, fall{}
		case faster.k == 0:
			faster = f
		}
		last, k = f, k*ratio
	}
	if slower.k == 0 || faster.k == 0 {
		return best // out of what counts
	}
	return narrow(bins, to, slower, best, faster)
}

// narrow puts parabolas through the rate that leaves least over and those on
// either side of it. Where they move one side only, it halves the other.
func narrow(bins []decayBin, to floor, slower, best, faster fall) fall {
	for i := range parabolas {
		side := widest(slower, best, faster).k
		if side > best.k*(1-rateMoves*2) && side < best.k*(1+rateMoves*2) {
			return best
		}
		k := vertex(slower, best, faster)
		switch {
		case i%3 == 2 || !(k > slower.k && k < faster.k):
			k = math.Sqrt(best.k * side)
		case math.Abs(k-best.k) < rateMoves*best.k: // it seems found: see that it rises on the farther side, too
			k = best.k * (1 + math.Copysign(rateMoves, side-best.k))
		}
		switch f := curve(bins, k, to); {
		case f.rest < best.rest && k < best.k:
			best, faster = f, best
		case f.rest < best.rest:
			slower, best = best, f
		case k < best.k:
			slower = f
		default:
			faster = f
		}
	}
	return best
}

// widest is the side that is farther off, by ratio.
func widest(slower, best, faster fall) fall {
	if faster.k*slower.k > best.k*best.k {
		return faster
	}
	return slower
}

// vertex is where the parabola through three curves' left-over, over the
// logarithm of their rates, is lowest; not a number where it is flat.
func vertex(slower, best, faster fall) float64 {
	left, right := math.Log(slower.k/best.k), math.Log(faster.k/best.k)
	up, down := slower.rest-best.rest, faster.rest-best.rest
	return best.k * math.Exp((right*right*up-left*left*down)/(2*(right*up-left*down)))
}

// curve solves the two linear terms for one rate, the background drawn
// towards what is known of it.
func curve(bins []decayBin, k float64, to floor) fall {
	pull := decayNoisePPM * decayNoisePPM / (to.err * to.err)
	f := fall{k: k, hours: float64(bins[len(bins)-1].T-bins[0].T) / 3600}
	n, y := pull, pull*to.level
	var e1, e2, ye float64
	var shares [decayBins]float64 // the exponentials cost the most: once each
	for i, b := range bins {
		e, w := f.share(b, bins[0]), float64(b.N)
		shares[i] = e
		n, y = n+w, y+w*float64(b.C)
		e1, e2, ye = e1+w*e, e2+w*e*e, ye+w*e*float64(b.C)
	}
	f.b = (y*e2 - ye*e1) / (n*e2 - e1*e1)
	f.b = min(max(f.b, to.least), to.most)
	f.a = (ye - f.b*e1) / e2
	f.rest = pull * (f.b - to.level) * (f.b - to.level)
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
func (f fall) error(bins []decayBin, to floor) float64 {
	const h = 0.02
	up, down := curve(bins, f.k*(1+h), to), curve(bins, f.k*(1-h), to)
	bend := (up.rest + down.rest - 2*f.rest) / (h * f.k * h * f.k)
	if bend <= 0 {
		return math.Inf(1)
	}
	noise := max(f.rest/float64(len(bins)-2), decayNoisePPM*decayNoisePPM)
	return math.Hypot(math.Sqrt(2*noise/bend), decaySystematic*f.k)
}
