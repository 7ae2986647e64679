package burner

import (
	"time"

	"heaterd/ingest/reading"
)

// Apply is Take for tests: it gives the burn that ended, and how many did.
func (s *State) Apply(x reading.Sample, expected time.Duration, begin reading.Instant, o *Options) (ended [1]Burn, n int) {
	if s.Take(&x, 0, expected, begin, o, &ended[0]) {
		n = 1
	}
	return ended, n
}
