package ingest

import (
	"slices"
	"sync/atomic"

	"heaterd/ingest/reading"
)

// Stats are the loop's counters since it was made.
type Stats struct {
	Messages   int64 // taken from the broker
	Duplicates int64 // of them, marked as delivered before
	Samples    int64 // read out of them
	Ignored    int64 // records of unknown name that were passed over
	Refused    map[reading.Reason]int64
	Commits    int64 // transactions
	Lines      int64 // kept in them
	Failures   int64 // transactions that failed
	Waiting    int   // messages in the queue
}

type counters struct {
	messages, duplicates, samples, ignored, commits, lines, failures atomic.Int64
	refused                                                          []atomic.Int64 // by position in reading.Reasons
}

var reasons = reading.Reasons()

func (c *counters) refuse(r reading.Reason) {
	if i := slices.Index(reasons, r); i >= 0 {
		c.refused[i].Add(1)
	}
}

// Stats gives the counters as they are now.
func (in *Ingest) Stats() Stats {
	c := &in.stats
	s := Stats{
		Messages: c.messages.Load(), Duplicates: c.duplicates.Load(), Samples: c.samples.Load(), Ignored: c.ignored.Load(),
		Commits: c.commits.Load(), Lines: c.lines.Load(), Failures: c.failures.Load(),
		Refused: map[reading.Reason]int64{}, Waiting: len(in.opts.Messages),
	}
	for i, r := range reasons {
		s.Refused[r] = c.refused[i].Load()
	}
	return s
}
