package ingest

import (
	"time"

	"heaterd/ingest/reading"
)

// pendingPerHour is how many nodes that are not listed are written down in an
// hour: more than a person adds in one, few enough that invented names push
// other messages out of the quarantine only slowly. Common practice, no
// source.
const pendingPerHour = 50

// pending remembers the unlisted nodes that were written down in the hour.
type pending struct {
	since reading.Instant
	nodes map[reading.NodeID]bool
}

// note reports whether to write down a message of the node.
func (p *pending) note(id reading.NodeID, at reading.Instant) bool {
	if p.nodes == nil || at.Sub(p.since).Abs() >= time.Hour {
		p.since, p.nodes = at, map[reading.NodeID]bool{}
	}
	if p.nodes[id] || len(p.nodes) >= pendingPerHour {
		return false
	}
	p.nodes[id] = true
	return true
}
