package burner

import (
	"time"

	"heaterd/ingest/reading"
)

// Absent says that the heater had no unit for a while, up to at, when one was
// fitted. That a flame was lit at both ends tells nothing of such a while: it
// counts in the upper bound and not in the estimate, and the burn that the unit
// before had seen ended with its last word, as for GiveUp.
func (s *State) Absent(at reading.Instant, expected time.Duration, o *Options) (b Burn, ended bool) {
	if !s.Flame.Known || at.Seconds(s.Flame.At) <= o.silence(expected) {
		return Burn{}, false
	}
	b, ended = s.GiveUp(at, expected, o)
	s.extendBlind(at)
	s.Flame = Flame{At: s.Flame.At}
	return b, ended
}
