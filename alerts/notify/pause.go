package notify

import (
	"errors"
	"math/rand/v2"
	"time"

	"heaterd/alerts/alarm"
)

// Pauses between attempts and the end of trying: common practice, no source.
const (
	firstPause  = 5 * time.Second
	urgentPause = time.Minute      // longest, where it is urgent
	tiredAfter  = 60               // attempts, an hour or so: from then on
	tiredPause  = 5 * time.Minute  // this is the longest, where it is urgent
	otherPause  = 10 * time.Minute // longest, where it is not
	jitter      = 0.2              // of the pause, either way, so that many do not come back at once
	giveUp      = 72 * time.Hour   // since the message was planned
)

// pauseAfter is how long to wait after so many attempts: what the receiver
// asked for and a little more, up to longPause where it is critical, or twice
// as long each time.
func pauseAfter(attempts int, m Message, err error) time.Duration {
	if later, ok := errors.AsType[*RetryError](err); ok && later.After > 0 {
		asked := later.After
		if critical(m) {
			asked = min(asked, longPause)
		}
		return asked + time.Duration(rand.Float64()*jitter*float64(firstPause))
	}
	d := min(firstPause<<min(max(attempts-1, 0), 10), longestPause(attempts, m.Urgent()))
	return time.Duration(float64(d) * (1 - jitter + 2*jitter*rand.Float64()))
}

// critical reports whether a message may be about somebody's life.
func critical(m Message) bool { return m.Priority == alarm.Critical }

func longestPause(attempts int, urgent bool) time.Duration {
	switch {
	case !urgent:
		return otherPause
	case attempts < tiredAfter:
		return urgentPause
	default:
		return tiredPause
	}
}
