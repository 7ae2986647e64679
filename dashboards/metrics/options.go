package metrics

import (
	"log/slog"
	"time"

	"heaterd/alerts/fold"
	"heaterd/ingest"
)

// Options say where the page gets its figures. A nil function leaves its
// part of the page out. Every function is called once per scrape, from any
// goroutine, and must not wait for anything slow.
type Options struct {
	View      func() fold.View
	Ingest    func() ingest.Stats
	Connected func() bool  // the connection to the broker is open
	Dropped   func() int64 // messages with QoS 0 that found the queue full
	Unclean   func() bool  // the last run did not end properly
	Alerts    func() Alerts
	Outbox    func() Outbox
	Sinks     func() []Sink
	Build     Build
	Logger    *slog.Logger // nil: silent
}

// Alerts is how the alarm engine keeps up.
type Alerts struct {
	LagRows int64     // lines of the log not read yet
	Faults  int64     // lines lost to a fault in a rule
	Turned  time.Time // when its loop last turned; zero: not yet
}

// Outbox is what waits to be told to people.
type Outbox struct {
	Pending, Dead int
	Overdue       time.Duration // of the longest-waiting pending message, past its time
}

// Sink is how a copy of the readings elsewhere keeps up.
type Sink struct {
	Name     string
	Up       bool // the last write was taken
	LagRows  int64
	Oldest   time.Duration // since the oldest unsent line arrived
	Rejected int64         // lines refused for good
}

// Build is which build runs.
type Build struct {
	Version, Revision string
}

// Bounds of a scrape, common practice, no source: two collectors and a person
// with a browser at once, and less than the usual scrape timeout of 10 s.
const (
	scrapesAtOnce = 4
	scrapeWait    = 9 * time.Second
)

func (o Options) withDefaults() Options {
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}
