package ingest

import (
	"cmp"
	"context"
	"log/slog"
	"time"

	"heaterd/ingest/mqtt"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// Decoder reads a message. Its line holds a Pack, a Status or an Answer. Its
// error is a *reading.Refusal; where the topic told the node all the same, the
// line's Refused names it.
type Decoder interface {
	Decode(topic string, payload []byte, arrived reading.Instant) (record.Line, error)
}

// Log keeps a batch durably, all of it or nothing, and sets the lines' ids.
type Log interface {
	Keep(ctx context.Context, b store.Batch) (last int64, err error)
}

// Observer takes measurements, as a Prometheus histogram does.
type Observer interface{ Observe(seconds float64) }

// Options configure the loop.
type Options struct {
	Messages <-chan mqtt.Message // closed when there will be no more
	Decoder  Decoder
	Log      Log
	Logger   *slog.Logger
	Now      func() time.Time // nil: the system's clock
	Tick     time.Duration    // between ticks; 0: DefaultTick
	Batch    int              // most messages of one commit; 0: DefaultBatch
	Budget   Budget           // zero: DefaultBudget
	Commits  Observer         // seconds of every commit; nil: not observed

	// Listed tells whether a node is to be listened to; nil: all are. Messages
	// of others are refused as reading.NotListed, and some of them kept in the
	// quarantine. It is called from one goroutine.
	Listed func(reading.NodeID) bool

	// Elsewhere tells whether a topic is of another site than the one where the
	// node is; nil: none is. Such a message is refused as reading.BadTopic: who
	// may publish for one site must not speak for another's nodes. It is called
	// from one goroutine.
	Elsewhere func(topic string, node reading.NodeID) bool
}

// DefaultTick is how often the log is told the time: a quarter of the
// shortest span any alarm counts, one minute.
const DefaultTick = 15 * time.Second

// DefaultBatch bounds one commit and so the time a follower waits for it. Half
// of the broker's window of unacknowledged messages, 1000 in the configuration
// shipped with heaterd, can be kept while the other half comes in.
const DefaultBatch = 500

// Budget is what one node may send.
type Budget struct {
	PerSecond float64 // messages per second on average
	Burst     int     // messages at once, after a long quiet
}

// DefaultBudget allows a node that reports every 15 s to catch up on a week
// that the broker kept for us, 40,320 messages, at once; common practice, no
// source.
var DefaultBudget = Budget{PerSecond: 20, Burst: 50_000}

const (
	drainLimit    = 10 * time.Second       // to empty Messages at the end
	commitLimit   = 30 * time.Second       // for one transaction
	firstRetry    = 100 * time.Millisecond // after a failed commit, doubling
	lastRetry     = 5 * time.Second
	clockStep     = time.Minute // a clock set back by more than this is believed
	budgetNotice  = time.Minute // between lines about one node over its budget
	budgetedNodes = 10_000      // nodes whose budget is remembered
)

func (o Options) withDefaults() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	o.Tick = cmp.Or(o.Tick, DefaultTick)
	o.Batch = cmp.Or(o.Batch, DefaultBatch)
	o.Budget = cmp.Or(o.Budget, DefaultBudget)
	return o
}
