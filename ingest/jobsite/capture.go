package jobsite

import (
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// CaptureLine is one line of a capture file: a message as it arrived, or
// what a person wrote down.
type CaptureLine struct {
	At      reading.Instant
	Topic   string
	Payload []byte
	Entry   *record.Entry
	Stop    *record.PlannedStop
}
