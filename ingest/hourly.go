package ingest

import (
	"time"

	"heaterd/ingest/reading"
)

// nodesPerHour is how many nodes are written down in an hour for one reason:
// more than a person adds in one, few enough that invented names push other
// messages out of the quarantine only slowly. Common practice, no source.
const nodesPerHour = 50

// hourly remembers the nodes that were written down in the hour for one reason.
type hourly struct {
	since reading.Instant
	nodes map[reading.NodeID]bool
}

// note reports whether to write down a message of the node.
func (h *hourly) note(id reading.NodeID, at reading.Instant) bool {
	if h.nodes == nil || at.Sub(h.since).Abs() >= time.Hour {
		h.since, h.nodes = at, map[reading.NodeID]bool{}
	}
	if h.nodes[id] || len(h.nodes) >= nodesPerHour {
		return false
	}
	h.nodes[id] = true
	return true
}
