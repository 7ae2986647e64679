package senml

import "heaterd/ingest/reading"

// Limits of a pack, the first two where Options leave them zero. Common
// practice, no source: a week of four quantities every ten seconds is 241,920
// records and about 10 MB.
const (
	DefaultMaxBytes   = 16 << 20
	DefaultMaxRecords = 250_000

	maxDepth = 8 // arrays and objects within each other; a pack has 2
)

// maxLabels is how many labels one record may hold; SenML has 15. Common
// practice, no source.
const maxLabels = 64

// Options are what a pack does not say itself. Zero limits mean the defaults.
type Options struct {
	Arrived    reading.Instant // when the message arrived; relative times count from here
	Node       reading.NodeID  // the node the topic told; names that tell another are refused. Empty: the names tell
	MaxBytes   int
	MaxRecords int
}

func (o Options) withDefaults() Options {
	if o.MaxBytes <= 0 {
		o.MaxBytes = DefaultMaxBytes
	}
	if o.MaxRecords <= 0 {
		o.MaxRecords = DefaultMaxRecords
	}
	return o
}
