package exposure

import (
	"math"

	"heaterd/ingest/reading"
)

// What a decay must be like to count: the concentration decay technique of
// ASTM E741 for one well-mixed zone. The figures are common practice, no
// source, except where one is named.
const (
	DecayMarginPPM   = 5.0  // ppm above background below which the logarithm is noise: a fall must begin higher
	decaySkipSeconds = 120  // s after the last flame: fan run-out, mixing, sensor lag
	decayBinSeconds  = 60   // s, the narrowest bin of readings
	decayBinShare    = 0.2  // share of the time since the stop, where that is wider
	decayBins        = 30   // enough for 12 h
	decayMinReadings = 5    // readings in the fit
	decayMinBins     = 4    // bins in the fit
	decayMinSeconds  = 300  // s from the first bin to the last
	decayFall        = 2.0  // fall of C − background that stands on its own
	decayMinR2       = 0.95 // else the least coefficient of determination
	decayMostSE      = 0.2  // most standard error, as a share of the rate
	decaySystematic  = 0.03 // share of the rate that mixing may be off whatever the scatter
	decayNoisePPM    = 0.7  // ppm, scatter of one reading (NIOSH 6604: detects 1 ppm; secondary text)
	decaySlowest     = 0.05 // 1/h, slower is not told from a drifting sensor
	decayFastest     = 40.0 // 1/h
	settledSeconds   = 3600 // s out before the level can be background
	settledPPM       = 0.5  // ppm between a fast and a slow mean: standing still
	settledFastMin   = 10.0 // min
	settledSlowMin   = 40.0 // min
	tailLengths      = 4.0  // time constants after which a fall shows its own background
)

// Decay finds the air changes of one space from the fall of CO after every
// source in it has stopped: C1 falls to C2 in a time t, above a background Cbg, by
// ln((C1−Cbg)/(C2−Cbg))/t of them. The zero value knows nothing yet.
type Decay struct {
	Known     bool    // background was found: the level stood still with all flames out
	First     bool    // background is the level the record began with, all flames out
	Level     float32 // background, ppm
	Lowest    float32 // lowest running mean, ppm: the background is no higher
	Fast      float32 // running means while out, ppm
	Slow      float32
	Out       bool            // all flames out
	OutSeen   bool            // a reading with all flames out was seen
	LitSeen   bool            // a flame was seen in this record
	Stopped   reading.Instant // last instant a flame was seen, or the first reading
	Newest    reading.Instant
	Trough    float32         // lowest running mean since the stop, ppm
	Other     reading.Instant // newest sign that something else makes CO in the space; 0: none
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

// Apply adds the concentration of the space at one instant and whether any
// flame in it is, or may be, lit. Instants must not descend.
func (d *Decay) Apply(at reading.Instant, ppm float64, anyLit bool) {
	ppm, ok := plausible(ppm)
	if !ok || d.Newest != 0 && at < d.Newest {
		return
	}
	if anyLit {
		d.finish()
		d.Out, d.LitSeen, d.Stopped, d.Newest = false, true, at, at
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

func (d *Decay) stop(at reading.Instant, ppm float64) {
	d.Out = true
	d.Fast, d.Slow, d.Trough = float32(ppm), float32(ppm), float32(ppm)
	if !d.LitSeen {
		d.Stopped = at
	}
}

// settle watches for the level standing still long after the stop, which is
// the background, and for the level before the first flame.
func (d *Decay) settle(at reading.Instant, ppm float64) {
	if d.Newest != 0 {
		dt := minutes(at, d.Newest)
		d.Fast += float32((1 - math.Exp(-dt/settledFastMin)) * (ppm - float64(d.Fast)))
		d.Slow += float32((1 - math.Exp(-dt/settledSlowMin)) * (ppm - float64(d.Slow)))
	}
	if !d.OutSeen || d.Fast < d.Lowest {
		d.Lowest, d.OutSeen = d.Fast, true
	}
	still := math.Abs(float64(d.Fast-d.Slow)) < settledPPM
	long := at.Seconds(d.Stopped) >= settledSeconds
	d.Trough = min(d.Trough, d.Fast)
	if d.Fast > d.Trough+max(otherRisePPM, otherShare*d.Trough) || still && long && d.Fast > d.Lowest+otherStandsPPM {
		d.noteOther(at)
	}
	switch {
	case !still:
	case long:
		d.Level, d.Known = d.Fast, true
	case !d.LitSeen && !d.Known:
		d.Level, d.First = d.Fast, true
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
	f, ok := d.fit()
	if ok {
		d.GoodRates[d.NextKept] = f.rate()
		d.NextKept = (d.NextKept + 1) % goodDecays
		d.Kept = min(d.Kept+1, goodDecays)
	}
	if ok && f.k*f.hours >= tailLengths && !d.otherSource() {
		d.Level, d.Known = float32(f.b), true
	}
	d.N = 0
}
