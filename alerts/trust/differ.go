package trust

import (
	"fmt"
	"time"
)

// When two CO sensors of one space differ by more than their places in it explain.
// The figures are of averages of 8 h, in which lags of minutes and single burns even
// out. Common practice, no source.
const (
	differTimes   = 2.0              // of the lower average, and as much of differPPM, that the higher one is above: a plume makes half as much again
	agreeTimes    = 1.75             // of the same, up to which two that differed agree again
	differPPM     = 5.0              // ppm, what the zeros of two sensors may be apart
	DifferCovered = 0.9              // least share of the 8 h that either measured
	DifferApart   = 30 * time.Minute // most between the newest readings of the two
)

// Differs reports whether a sensor whose average of 8 h is low reads less than the
// place of one of the same space, whose average is high, explains; both in ppm. One
// that is told of already does until they agree again.
func Differs(low, high float64, told bool) bool {
	times := differTimes
	if told {
		times = agreeTimes
	}
	return high > times*(max(low, 0)+differPPM)
}

// Difference tells people of it, with the share of the 8 h that each measured, 0 to
// 1; where names the heater of the higher sensor.
func Difference(low, lowCovered float64, where string, high, highCovered float64) string {
	return fmt.Sprintf("averaged %.0f ppm over the last 8 h (%.0f %% measured) while the one of %s in the same space averaged %.0f ppm (%.0f %%): more than their places explain, so one of the two is wrong; the higher one is used",
		low, 100*lowCovered, where, high, 100*highCovered)
}
