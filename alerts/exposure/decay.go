package exposure

import (
	"math"

	"heaterd/ingest/reading"
)

// What a decay must be like to count: the concentration decay technique of
// ASTM E741 for one well-mixed zone. The figures are common practice, no
// source, except where one is named.
const (
	DecayMarginPPM     = 5.0  // ppm above background below which the logarithm is noise
	DefaultBackground  = 0.0  // ppm of outdoor air, where none is given or seen
	decaySkipSeconds   = 180  // s after the last flame: fan run-out, mixing, sensor lag
	decayBinSeconds    = 120  // s, the narrowest bin of readings
	decayBinShare      = 0.2  // share of the time since the stop, where that is wider
	decayBins          = 30   // enough for 12 h
	decayMinReadings   = 5    // readings in the fit
	decayMinBins       = 4    // bins in the fit
	decayMinSeconds    = 480  // s from the first bin to the last
	decayFall          = 2.0  // fall of C − background that stands on its own
	decayMinR2         = 0.95 // else the least coefficient of determination
	decayMostSE        = 0.2  // most standard error, as a share of the rate
	decayBackgroundErr = 1.0  // ppm the background may be off (NIOSH 6604: detects 1 ppm; secondary text)
	decayNoisePPM      = 0.5  // ppm, scatter assumed where a bin shows less
	decayFloorPerH     = 0.05 // 1/h, slower is not told from a drifting sensor
	settledSeconds     = 3600 // s out before the level can be background
	settledPPM         = 0.5  // ppm between a fast and a slow mean: standing still
	settledFastMin     = 10.0 // min
	settledSlowMin     = 40.0 // min
	goodDecays         = 12   // decays the reported figure is taken from
)

// AirChanges gives the air changes per hour that take c1 ppm to c2 ppm in
// hours, above a background: ln((c1−cbg)/(c2−cbg))/hours. It is not a number
// where a concentration is at or under the background.
func AirChanges(c1, c2, background, hours float64) float64 {
	return math.Log((c1-background)/(c2-background)) / hours
}

// Decay finds the air changes of one space from the fall of CO after every
// source in it has stopped. The zero value knows nothing yet.
type Decay struct {
	Given     bool    // Background was given, not found
	Known     bool    // Background was found: the level stood still with all flames out
	Level     float32 // background, ppm
	Fast      float32 // running means while out, ppm
	Slow      float32
	Out       bool            // all flames out
	LitSeen   bool            // a flame was seen in this record
	Stopped   reading.Instant // last instant a flame was seen, or the first reading
	Newest    reading.Instant
	Fall      [decayBins]decayBin
	N         uint8 // bins in use
	Kept      uint8 // good decays in use
	NextKept  uint8
	GoodRates [goodDecays]decayRate
}

// decayBin is the mean of a few readings of a fall.
type decayBin struct {
	T float32 // s since the stop
	C float32 // ppm
	N float32 // readings
}

type decayRate struct {
	PerH float32 // 1/h
	SE   float32 // 1/h
}

// AirChange is the ventilation of a space with its confidence range.
type AirChange struct {
	PerH      float64 // air changes per hour
	Low, High float64 // about 95 %, background error included
	Decays    int     // decays it rests on
}

// NewDecay gives a Decay with the site's own background figure, ppm.
func NewDecay(background float64) Decay {
	return Decay{Given: true, Level: float32(background)}
}

// Apply adds the concentration of the space at one instant and whether any
// flame in it is, or may be, lit. Instants must not descend.
func (d *Decay) Apply(at reading.Instant, ppm float64, anyLit bool) {
	if math.IsNaN(ppm) || math.IsInf(ppm, 0) || d.Newest != 0 && at < d.Newest {
		return
	}
	if anyLit {
		d.finish()
		*d = d.lit(at)
		return
	}
	if !d.Out {
		d.stop(at, ppm)
	}
	d.settle(at, ppm)
	d.Newest = at
	if d.LitSeen {
		d.collect(at, ppm)
	}
}

func (d *Decay) lit(at reading.Instant) Decay {
	n := *d
	n.Out, n.LitSeen, n.Stopped, n.Newest, n.N = false, true, at, at, 0
	return n
}

func (d *Decay) stop(at reading.Instant, ppm float64) {
	d.Out = true
	d.Fast, d.Slow = float32(ppm), float32(ppm)
	if !d.LitSeen {
		d.Stopped = at
	}
}

// settle watches for the level standing still long after the stop, which is
// the background.
func (d *Decay) settle(at reading.Instant, ppm float64) {
	if d.Newest != 0 {
		dt := minutes(at, d.Newest)
		d.Fast += float32((1 - math.Exp(-dt/settledFastMin)) * (ppm - float64(d.Fast)))
		d.Slow += float32((1 - math.Exp(-dt/settledSlowMin)) * (ppm - float64(d.Slow)))
	}
	still := math.Abs(float64(d.Fast-d.Slow)) < settledPPM
	if !d.Given && still && at.Seconds(d.Stopped) >= settledSeconds {
		d.Level, d.Known = d.Fast, true
	}
}

// collect puts a reading into the bin of its time since the stop; the bins
// widen as the fall flattens.
func (d *Decay) collect(at reading.Instant, ppm float64) {
	t := at.Seconds(d.Stopped)
	if t < decaySkipSeconds {
		return
	}
	if d.N > 0 {
		b := &d.Fall[d.N-1]
		first := float64(b.T) // mean time, near enough to the first for a bin's width
		if t-first < max(decayBinSeconds, decayBinShare*t)/2 {
			b.take(t, ppm)
			return
		}
	}
	if d.N < decayBins {
		d.Fall[d.N] = decayBin{T: float32(t), C: float32(ppm), N: 1}
		d.N++
	}
}

func (b *decayBin) take(t, ppm float64) {
	b.N++
	b.T += (float32(t) - b.T) / b.N
	b.C += (float32(ppm) - b.C) / b.N
}

// finish fits the fall that just ended and keeps its rate if it is good.
func (d *Decay) finish() {
	if r, ok := d.fit(); ok {
		d.GoodRates[d.NextKept] = r
		d.NextKept = (d.NextKept + 1) % goodDecays
		d.Kept = min(d.Kept+1, goodDecays)
	}
	d.N = 0
}

func (d *Decay) background() float64 {
	if d.Given || d.Known {
		return float64(d.Level)
	}
	return DefaultBackground
}

// fit gives the rate of the fall seen so far; its error includes what a
// wrong background would do.
func (d *Decay) fit() (decayRate, bool) {
	bg := d.background()
	n := d.usable(bg)
	k, se, ok := fitLog(d.Fall[:n], bg)
	if !ok {
		return decayRate{}, false
	}
	low, _, _ := fitLog(d.Fall[:n], bg-decayBackgroundErr)
	high, _, _ := fitLog(d.Fall[:n], bg+decayBackgroundErr)
	se = math.Hypot(se, (high-low)/2)
	good := k >= decayFloorPerH && se <= decayMostSE*k
	return decayRate{PerH: float32(k), SE: float32(se)}, good
}

// usable counts the bins up to the first one too near to the background.
func (d *Decay) usable(bg float64) int {
	for i, b := range d.Fall[:d.N] {
		if float64(b.C) < bg+DecayMarginPPM {
			return i
		}
	}
	return int(d.N)
}

// fitLog is the least-squares slope of ln(C−background), each bin weighted
// by its readings and the square of its height, since the readings scatter
// evenly in C; 1/h.
func fitLog(bins []decayBin, bg float64) (k, se float64, ok bool) {
	if len(bins) < decayMinBins || float64(bins[len(bins)-1].T-bins[0].T) < decayMinSeconds {
		return 0, 0, false
	}
	var f logFit
	for _, b := range bins {
		f.add(float64(b.T)/3600, float64(b.C)-bg, float64(b.N))
	}
	slope, r2, se := f.solve()
	fall := (float64(bins[0].C) - bg) / (float64(bins[len(bins)-1].C) - bg)
	return -slope, se, f.n >= decayMinReadings && (fall >= decayFall || r2 >= decayMinR2)
}

// logFit holds the sums of the weighted regression.
type logFit struct{ w, wx, wy, wxx, wxy, wyy, n, bins float64 }

func (f *logFit) add(x, height, n float64) {
	w, y := n*height*height, math.Log(height)
	f.w += w
	f.wx += w * x
	f.wy += w * y
	f.wxx += w * x * x
	f.wxy += w * x * y
	f.wyy += w * y * y
	f.n += n
	f.bins++
}

func (f *logFit) solve() (slope, r2, se float64) {
	sxx := f.wxx - f.wx*f.wx/f.w
	sxy := f.wxy - f.wx*f.wy/f.w
	syy := f.wyy - f.wy*f.wy/f.w
	if sxx <= 0 || syy <= 0 {
		return 0, 0, math.Inf(1)
	}
	slope = sxy / sxx
	rest := max(syy-slope*sxy, 0)
	noise := max(rest/max(f.bins-2, 1), decayNoisePPM*decayNoisePPM)
	return slope, 1 - rest/syy, math.Sqrt(noise / sxx)
}

// AirChange gives the air changes of the space: the median of the good
// decays, each counting by its certainty, the one under way included. False
// where no decay was good enough to tell.
func (d *Decay) AirChange() (AirChange, bool) {
	var all [goodDecays + 1]decayRate
	n := copy(all[:], d.GoodRates[:d.Kept])
	if r, ok := d.fit(); ok {
		all[n] = r
		n++
	}
	if n == 0 {
		return AirChange{}, false
	}
	r := median(all[:n])
	half := 2 * float64(r.SE)
	return AirChange{
		PerH: float64(r.PerH), Low: max(float64(r.PerH)-half, 0), High: float64(r.PerH) + half, Decays: n,
	}, true
}

// median sorts by rate and gives the one in the middle of the weight.
func median(r []decayRate) decayRate {
	var total, upTo float64
	for i := range r {
		for j := i; j > 0 && r[j].PerH < r[j-1].PerH; j-- {
			r[j], r[j-1] = r[j-1], r[j]
		}
	}
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

func (r decayRate) weight() float64 { return 1 / max(float64(r.SE)*float64(r.SE), 1e-9) }
