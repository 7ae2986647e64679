package burner

import "math"

// Tail is how the counter goes on when the flame has gone out. One that counts
// the fan, or the motor, runs on through the purge: each time it tells so much
// more than burned, and no burn that nobody saw comes right after every other.
type Tail struct {
	Taken  float32 // s that it gained in the interval of the newest stop, beyond the least that burned then
	Times  int8    // stops in a row after which it ran on through a whole interval
	Turned bool    // the flame changed in the newest stretch
	Out    bool    // nothing is known of what came after that stop
}

// turn takes in a stretch in which the flame came or went. Where it came, what
// follows is lit.
func (t *Tail) turn(w *Tally, dr float64) { t.Taken, t.Out = float32(max(0, dr-w.Low)), true }

// stopped takes in that the counter stood still after the stop.
func (t *Tail) stopped() {
	if t.Out {
		*t = Tail{}
	}
}

// ranOn takes in that it ran on through a whole interval without a flame, and
// gives what it told of the stop before that need not have burned either, s.
func (t *Tail) ranOn() float64 {
	if !t.Out {
		return 0
	}
	t.Times, t.Out = min(t.Times, math.MaxInt8-1)+1, false
	return float64(t.Taken)
}
