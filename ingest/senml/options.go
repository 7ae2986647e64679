package senml

import "heaterd/ingest/reading"

// Limits of a pack. Common practice, no source: a week of four quantities
// every ten seconds is 241,920 records and about 10 MB.
const (
	maxBytes   = 16 << 20
	maxRecords = 250_000
	maxDepth   = 8 // arrays and objects within each other; a pack has 2
)

// maxLabels is how many labels one record may hold; SenML has 15. Common
// practice, no source.
const maxLabels = 64

// Options are what a pack does not say itself.
type Options struct {
	Arrived reading.Instant // when the message arrived; relative times count from here
	Node    reading.NodeID  // the node the topic told; names that tell another are refused. Empty: the names tell
}
