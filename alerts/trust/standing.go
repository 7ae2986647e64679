package trust

import (
	"math"
	"time"
)

// How long a CO sensor that tells whole ppm only may stand at a value of clean
// air. Common practice, no source.
const (
	cleanPPM    = 10.0           // up to it a whole value may be an offset in clean air: half of BesidePPM
	standsLeast = 12 * time.Hour // such a value may stand for a night, flame or not …
	standsTimes = 2              // … and for so many times the longest it stood before it moved by itself
	standsMost  = 72 * time.Hour // but no longer than this
)

// standing reports whether a value that stands is one that a sensor which tells
// whole ppm may show of clean air: its zero is seldom exact, and an offset of 2 ppm
// stands as still as zero does.
func (s *COSensor) standing() bool {
	return s.PPM >= DriftPPM && s.PPM <= cleanPPM && float64(s.PPM) == math.Trunc(float64(s.PPM))
}

// moved keeps how long the sensor stood at a value of clean air before it read
// another.
func (s *COSensor) moved() {
	if s.standing() {
		s.Stood = min(max(s.Stood, s.Newest.Sub(s.Since)), standsMost)
	}
}

// tellStuck reports whether people are to be told that it is stuck. What it reads
// is no measurement from Stuck on; it is told later where air that stands explains
// it too.
func (s *COSensor) tellStuck() bool {
	if !s.Stuck() || !s.standing() {
		return s.Stuck()
	}
	patience := min(max(standsLeast, standsTimes*s.Stood), standsMost)
	return s.Newest.Sub(s.Since) >= patience
}
