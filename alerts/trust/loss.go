package trust

import (
	"math"
	"time"
)

// How packs that are lost on the way are told from a silence. Common practice,
// no source.
const (
	lossWeight   = 1.0 / 200        // of one pack in the share that is lost
	lossUnlikely = 1e-6             // odds at which a row of lost packs is taken for a silence: once in years at two minutes
	lossOutage   = 10               // a break of as many packs is an outage, and tells nothing of the way
	lossWait     = 30 * time.Minute // no loss makes a silence wait for longer than this
)

// Loss is the share of a node's packs that are lost on the way, 0 to 1. The
// zero value has seen none lost.
type Loss float64

// Note takes the time since the pack before, beside the usual time between two.
func (l *Loss) Note(span, usual time.Duration) {
	due := math.Round(span.Seconds() / usual.Seconds())
	if due < 1 || due > lossOutage {
		return
	}
	for range int(due) - 1 {
		*l += (1 - *l) * lossWeight
	}
	*l -= *l * lossWeight
}

// Wait gives how long no pack may come before chance does not explain it; packs
// is the usual time between two. 0 where none was seen lost.
func (l Loss) Wait(packs time.Duration) time.Duration {
	if l <= 0 {
		return 0
	}
	row := min(math.Ceil(math.Log(lossUnlikely)/math.Log(float64(l))), lossOutage)
	return min(time.Duration((row+0.5)*float64(packs)), lossWait)
}
