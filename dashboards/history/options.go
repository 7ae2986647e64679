package history

import (
	"context"
	"log/slog"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Log is the log as it is copied.
type Log interface {
	// Lines gives up to limit lines above id after, in order.
	Lines(ctx context.Context, after int64, limit int) ([]record.Line, error)
	// Last gives the id of the last line, at once.
	Last() int64
	// Compacted gives the id up to which Lines no longer gives packs.
	Compacted(ctx context.Context) (int64, error)
	Hours
}

// Hours are the readings that Lines no longer gives.
type Hours interface {
	// CompactedSpan gives the time that has such readings; equal ends: none.
	CompactedSpan(ctx context.Context) (from, to reading.Instant, err error)
	// CompactedHour calls f with those of each node measured in the hour an
	// instant lies in, and gives the next hour that has any.
	CompactedHour(ctx context.Context, at reading.Instant, f func(reading.NodeID, []reading.Sample)) (
		next reading.Instant, ok bool, err error)
	// Samples calls f with a node's readings of a time, wherever they are kept.
	Samples(ctx context.Context, id reading.NodeID, from, to reading.Instant, f func(reading.Sample) bool) error
}

// Memory keeps the cursor.
type Memory interface {
	SaveSnapshot(ctx context.Context, name string, cursor int64, body []byte) error
	LoadSnapshot(ctx context.Context, name string) (cursor int64, body []byte, ok bool, err error)
}

// Options say where to write and what.
type Options struct {
	URL    string // http://host:8086
	Org    string
	Bucket string
	Token  []byte

	Log     Log
	Backlog time.Duration // how old a reading in the log may be when it arrives
	Memory  Memory
	// Places finds out where every node was; nil: no tags but the node.
	Places func(context.Context) (Places, error)
	Logger *slog.Logger // nil: silent
}

// SnapshotName is the name under which the cursor is kept.
const SnapshotName = "influx"

// The pace. Common practice, no source, except where one is named.
const (
	linesAtOnce = 256              // of the log, held in memory
	mostRecords = 5000             // in one write: InfluxDB v2 documentation, "Optimize writes", gives 5,000 lines (from memory)
	lookEvery   = 5 * time.Second  // for new lines, once everything is written
	keepEvery   = 10 * time.Second // the cursor: a commit that ingest has to wait for
	writeLimit  = 30 * time.Second // for one write
	firstRetry  = time.Second      // doubling
	lastRetry   = time.Minute      // between tries, and between those of a wrong set-up
	longestWait = time.Hour        // that a server may ask for
	findEvery   = time.Minute      // where every node was, as a configuration may have it otherwise
	tellEvery   = time.Hour        // that nothing is taken, after it was told first
	asideKept   = 100              // records set aside that are remembered, the newest
)

func (o Options) withDefaults() Options {
	if o.Places == nil {
		o.Places = func(context.Context) (Places, error) {
			return func(reading.NodeID, reading.Instant) Place { return Place{} }, nil
		}
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}
