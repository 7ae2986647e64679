package trust

import (
	"fmt"
	"math/bits"
	"time"

	"heaterd/ingest/reading"
)

// When a CO sensor is suspect. Common practice, no source, except where one
// is named.
const (
	stuckVaried    = 6 * time.Hour    // exactly the same value while a flame came or went
	stuckAnyhow    = 24 * time.Hour   // exactly the same value whatever the flame did
	zeroOffPPM     = -DriftPPM        // ppm from zero up to which a whole value may be how a sensor tells clean air
	ZeroBeside     = time.Hour        // exactly that while another sensor of the space reads BesidePPM or more
	BesidePPM      = 20.0             // ppm, what all the space's air should show of: the lowest of the limits that ship, 8-h of EH40 and Directive 2017/164
	stuckReadings  = 20               // readings that takes
	DriftPPM       = -3.0             // ppm, below it is more than zero drift (NIOSH 6604: detects 1 ppm, ±6 %; secondary text)
	rangePPM       = 1000.0           // ppm, top of the range of most electrochemical cells (from memory)
	plungeIn       = 5 * time.Minute  // from BesidePPM or more to zero within: no air is changed so fast
	cleanReadings  = 20               // readings of clean air above zero, and none at it, after which zero is no word of the sensor's for clean air
	lostLeast      = 10 * time.Minute // a unit that goes on without CO for this long …
	lostIntervals  = 3                // … and so many of the sensor's intervals has lost it
	steadyReadings = 5                // readings in a row below DriftPPM or above rangePPM
	steadyTime     = 10 * time.Minute // and the time they must span below DriftPPM
	sunkFor        = 6 * time.Hour    // such a row is remembered for: a heater that comes and goes lifts the readings each time, and not the zero
)

// COSensor watches one CO sensor. The zero value has seen nothing.
type COSensor struct {
	PPM      float32
	Since    reading.Instant // first reading of the present value
	Newest   reading.Instant
	Same     int32           // readings of the present value
	Varied   bool            // the flame came or went since then
	Stood    time.Duration   // longest it stood at a whole value of clean air before it moved
	Flame    bool            // flame at the newest reading
	Below    int32           // readings in a row below DriftPPM
	BelowAt  reading.Instant // first of them
	Sunk     reading.Instant // newest reading of such a row that was long enough to doubt the sensor
	SunkAt   reading.Instant // first reading of the first of those rows
	SunkPPM  float32         // ppm, what it read at Sunk
	Above    int32           // readings in a row above rangePPM
	High     float32         // highest of the readings of BesidePPM or more in about plungeIn, ppm
	HighOf   reading.Instant // when it was
	HighAt   reading.Instant // newest such reading
	Plunged  float32         // High, where it went to zero or below within plungeIn of HighAt, and read no more since; 0: it did not
	PlungeAt reading.Instant // when it did
	Naught   int32           // readings since then
	Clean    int32           // readings above zero and below BesidePPM
	Zeroes   bool            // it read zero or below when it had not plunged there
	Here     reading.Instant // its first reading at the heater it is on; 0: none yet
	Follow   follow          // how it goes with the burns
	Verified int64           // number of the entry by which a person verified it since; 0: nobody did
}

// Apply adds one reading and whether the flame beside it was lit. Instants
// must not descend.
func (s *COSensor) Apply(at reading.Instant, ppm float32, lit bool) {
	if s.Same > 0 && at <= s.Newest {
		return
	}
	if s.Here == 0 {
		s.Here = at
	}
	before, step, lights := s.PPM, float32(0), false
	if s.Same > 0 {
		step, lights = max(ppm-before, before-ppm), lit && !s.Flame
	}
	if s.Same == 0 || ppm != s.PPM {
		s.moved()
		s.PPM, s.Since, s.Same, s.Varied = ppm, at, 0, false
	} else {
		s.Varied = s.Varied || lit != s.Flame
	}
	s.Same++
	s.Newest, s.Flame = at, lit
	s.Follow.note(at, ppm, step, s.Since, lit, lights)
	s.note(at, ppm)
	s.plunge(at, ppm, before)
	s.Below = row(s.Below, ppm < DriftPPM)
	if s.Below == 1 {
		s.BelowAt = at
	}
	if s.low() {
		s.sink(at, ppm)
	}
	s.Above = row(s.Above, ppm > rangePPM)
}

// low reports whether it reads below what zero drift explains, and has for a while.
func (s *COSensor) low() bool {
	return s.Below >= steadyReadings && s.Newest.Sub(s.BelowAt) >= steadyTime
}

// sink keeps that it did: a check written down before counts for it no more.
func (s *COSensor) sink(at reading.Instant, ppm float32) {
	if !s.sunk() {
		s.SunkAt, s.Verified = s.BelowAt, 0
	}
	s.Sunk, s.SunkPPM = at, ppm
}

// sunk reports whether its zero lay too low within sunkFor, and nobody has verified
// it since.
func (s *COSensor) sunk() bool {
	return s.Sunk != 0 && s.Verified == 0 && s.Newest.Sub(s.Sunk) < sunkFor
}

// Verifiable reports whether there is a doubt that the word of a person who verified
// the sensor ends.
func (s *COSensor) Verifiable() bool { return s.Plunged > 0 || s.sunk() }

// note keeps how bad the air was just now.
func (s *COSensor) note(at reading.Instant, ppm float32) {
	if ppm < BesidePPM {
		return
	}
	if ppm >= s.High || at.Sub(s.HighOf) > plungeIn {
		s.High, s.HighOf = ppm, at
	}
	s.HighAt = at
}

// plunge follows a sensor that reads zero or below so soon after BesidePPM or more
// that no air was cleared in between: a dead one stands at zero, or strays about it.
// Of one that reads zero in clean air only a fall at once tells that much.
func (s *COSensor) plunge(at reading.Instant, ppm, before float32) {
	switch {
	case ppm > 0:
		s.Plunged, s.Naught = 0, 0
		if ppm < BesidePPM {
			s.Clean = min(s.Clean+1, cleanReadings)
		}
		return
	case s.Plunged == 0 && s.HighAt != 0 && at.Sub(s.HighAt) <= plungeIn && (before >= BesidePPM || s.neverZero()):
		s.Plunged, s.PlungeAt, s.Verified = s.High, at, 0
	case s.Plunged == 0:
		s.Zeroes = true
	}
	if s.Plunged > 0 {
		s.Naught++
	}
}

// neverZero reports whether the sensor is known to read more than zero in clean
// air.
func (s *COSensor) neverZero() bool { return s.Clean >= cleanReadings && !s.Zeroes }

// Measures reports whether the newest reading tells of the air: it is not below
// DriftPPM, nor zero or below since the sensor plunged there, unless that is how it
// tells of clean air. What does not makes no air better: what was before stands.
func (s *COSensor) Measures() bool { return s.PPM >= DriftPPM && !s.blank() }

// doubted reports whether it has read nothing since it plunged to zero, and nobody
// has verified it since.
func (s *COSensor) doubted() bool { return s.Plunged > 0 && s.Verified == 0 }

// blank reports whether it stands at a zero that it never reads in clean air.
func (s *COSensor) blank() bool { return s.doubted() && s.neverZero() }

// Carried is what is known of the sensor in another place: that it reads nothing
// since it plunged to zero goes with it, and that its zero lay too low, and nothing
// of the air it came from.
func (s *COSensor) Carried() COSensor {
	c := COSensor{}
	if s.blank() {
		c = COSensor{
			PPM: s.PPM, Since: s.Since, Same: s.Same, Flame: s.Flame,
			Plunged: s.Plunged, PlungeAt: s.PlungeAt, Naught: s.Naught, Clean: s.Clean,
		}
	}
	if s.sunk() {
		c.Sunk, c.SunkAt, c.SunkPPM = s.Sunk, s.SunkAt, s.SunkPPM
	}
	if c != (COSensor{}) {
		c.Newest = s.Newest
	}
	return c
}

// Plunge gives what the sensor read before the newest reading, where that is the
// one by which it plunged to a zero that tells nothing.
func (s *COSensor) Plunge() (ppm float32, is bool) { return s.Plunged, s.Naught == 1 && s.blank() }

func row(n int32, goesOn bool) int32 {
	if !goesOn {
		return 0
	}
	return n + 1
}

// Suspect gives the reason to doubt the sensor, for co-sensor-suspect; false
// where there is none. A sensor that always reads exactly zero is not
// suspect by that alone: clean air reads zero; see BlindBeside and tellStuck.
func (s *COSensor) Suspect() (string, bool) {
	switch {
	case s.Above >= steadyReadings:
		return fmt.Sprintf("reads %.0f ppm, above its range of %.0f ppm: treat it as real, and verify the sensor with a known concentration",
			s.PPM, float64(rangePPM)), true
	case s.low():
		return fmt.Sprintf("reads %.1f ppm, below what zero drift explains: it may read low; verify the sensor with a known concentration",
			s.PPM), true
	case s.sunk():
		return fmt.Sprintf("read %.1f ppm %.1f h ago, below what zero drift explains: it may read low; verify the sensor with a known concentration, and write the check down",
			s.SunkPPM, s.Newest.Sub(s.Sunk).Hours()), true
	case s.doubted() && s.Naught >= steadyReadings:
		return fmt.Sprintf("went from %.0f ppm to 0 within minutes, faster than any air clears: it may be dead; verify the sensor with a known concentration, and write the check down",
			s.Plunged), true
	case s.deaf():
		return fmt.Sprintf("has read exactly %.4g ppm through %d burns and the times out between them, while it rose with %d of the 8 before: it may be stuck; verify the sensor with a known concentration",
			s.PPM, s.Follow.Burns, bits.OnesCount8(s.Follow.Rose)), true
	case s.tellStuck():
		return fmt.Sprintf("has read exactly %.4g ppm for %.0f h: it may be stuck; verify the sensor with a known concentration",
			s.PPM, s.Newest.Sub(s.Since).Hours()), true
	}
	return "", false
}

// Began is the first of the readings that Suspect doubts.
func (s *COSensor) Began() reading.Instant {
	switch {
	case s.sunk():
		return s.SunkAt
	case s.Below > 0:
		return s.BelowAt
	case s.doubted():
		return s.PlungeAt
	}
	return s.Since
}

// BlindBeside gives the reason to doubt a sensor that stands at its zero while
// another of the space, by the name of where, reads ppm; false where there is
// none.
func (s *COSensor) BlindBeside(where string, ppm float32) (string, bool) {
	if !s.Zero() || ppm < BesidePPM {
		return "", false
	}
	return fmt.Sprintf("has read exactly %.0f ppm for %.0f h while the one of %s in the same space reads %.0f ppm: it may be dead, or the air is not mixed; believe the higher one",
		s.PPM, s.Newest.Sub(s.Since).Hours(), where, ppm), true
}

// Lost gives the reason to doubt a sensor that says nothing any more while its
// unit goes on, newest being what the unit said last; every is how often CO
// came. False where there is none.
func (s *COSensor) Lost(newest reading.Instant, every time.Duration) (string, bool) {
	quiet := newest.Sub(s.Newest)
	if s.Same == 0 || quiet <= max(lostLeast, lostIntervals*every) {
		return "", false
	}
	return fmt.Sprintf("the unit reports, but no CO for %.0f min; the last was %.0f ppm", quiet.Minutes(), max(s.PPM, 0)), true
}

// Zero reports whether it has stood at what it may read in clean air for so long
// that another sensor of the space can tell whether that is so.
func (s *COSensor) Zero() bool {
	return s.atZero() && s.Same >= stuckReadings && s.Newest.Sub(s.Since) >= ZeroBeside
}

// atZero reports whether the newest reading is zero, or a whole value so near it
// that it may be how the sensor tells clean air.
func (s *COSensor) atZero() bool { return s.standing() && s.PPM <= zeroOffPPM }

// deaf reports whether it stands still through burns as it never did before.
func (s *COSensor) deaf() bool { return s.Same >= stuckReadings && s.Follow.deaf(s.PPM) }

// Stuck reports whether it has given exactly the same value, not zero, for
// longer than air ever stands.
func (s *COSensor) Stuck() bool {
	if s.PPM == 0 || s.Same < stuckReadings {
		return false
	}
	if s.deaf() {
		return true
	}
	span := s.Newest.Sub(s.Since)
	return s.Varied && span >= stuckVaried || span >= stuckAnyhow
}
