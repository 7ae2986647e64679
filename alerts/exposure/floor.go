package exposure

import (
	"math"

	"heaterd/ingest/reading"
)

// What is known of the level that a fall ends at. Common practice, no source,
// except where one is named.
const (
	backgroundPPM     = 1.0           // ppm of outdoor air where nothing was seen
	backgroundAny     = 2.0           // ppm it may be off then,
	backgroundFirst   = 1.0           // where the record began with all flames out,
	backgroundSettled = 0.5           // where the level was seen to stand still,
	backgroundOther   = 100.0         // and where something else makes CO: the fall alone tells where it ends
	firstPPM          = 1.4           // ppm that the level at the first may be undercut by scatter
	otherRisePPM      = 3.0           // ppm of a rise with all flames out (NIOSH 6604: detects 1 ppm, ±6 %; secondary text)
	otherShare        = 0.1           // and as a share of the level: uneven mixing
	otherStandsPPM    = 6.0           // ppm above the lowest level at which it stands still
	otherSeconds      = 7 * 24 * 3600 // s a sign of it counts: what is at work once a week comes back
)

// floor is what is known of the level that a fall ends at, ppm.
type floor struct {
	level float64 // expected
	err   float64 // how far that may be off
	least float64 // no lower,
	most  float64 // and no higher
}

func (d *Decay) floor() floor {
	if d.otherSource() {
		return openFloor(d.Fall[:d.N])
	}
	f := floor{level: backgroundPPM, err: backgroundAny, least: math.Inf(-1), most: float64(d.Lowest) + decayNoisePPM}
	switch {
	case d.Known:
		f.level, f.err = float64(d.Level), backgroundSettled
	case d.First && d.Lowest >= d.Level-firstPPM:
		f.level, f.err = float64(d.Level), backgroundFirst
	}
	return f
}

// openFloor leaves it to the fall where it ends.
func openFloor(bins []decayBin) floor {
	f := floor{level: backgroundPPM, err: backgroundOther, most: math.Inf(1)}
	for _, b := range bins {
		f.most = min(f.most, float64(b.C)+decayNoisePPM)
	}
	return f
}

// otherSource reports whether something else than the heaters was seen to make
// CO in the space lately: then no level of before tells where a fall ends.
func (d *Decay) otherSource() bool {
	return d.Other != 0 && d.Newest.Seconds(d.Other) < otherSeconds
}

// noteOther takes a sign of another source. What earlier falls gave was worked out
// without it.
func (d *Decay) noteOther(at reading.Instant) {
	if !d.otherSource() {
		d.Kept, d.NextKept = 0, 0
	}
	d.Other = at
}
