package dashboards

import (
	"slices"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// fittings finds the fittings that say something of one heater among those of
// all: who goes through all of them for each heater takes a minute of a fleet
// of ten thousand.
type fittings struct {
	log     []ledger.EntryRow // oldest first
	heaters map[string][]int  // places in the log, by the heater that a node was fitted to
	nodes   map[reading.NodeID][]int
}

func indexFittings(log []ledger.EntryRow) fittings {
	f := fittings{log, map[string][]int{}, map[reading.NodeID][]int{}}
	for i, r := range log {
		node := reading.NodeID(r.Entry.Node)
		if node == "" {
			continue
		}
		f.heaters[r.Entry.Heater] = append(f.heaters[r.Entry.Heater], i)
		f.nodes[node] = append(f.nodes[node], i)
	}
	return f
}

// of gives, oldest first, those to a heater and those of every node that it
// carried or may have carried, for what is fitted elsewhere is on it no more.
func (f fittings) of(c course) []ledger.EntryRow {
	at := slices.Clone(f.heaters[c.heater])
	for node := range f.carried(c) {
		at = append(at, f.nodes[node]...)
	}
	slices.Sort(at)
	at = slices.Compact(at)
	own := make([]ledger.EntryRow, len(at))
	for i, n := range at {
		own[i] = f.log[n]
	}
	return own
}

// carried are the nodes that the configuration ever named for a heater, and
// those that people fitted to it.
func (f fittings) carried(c course) map[reading.NodeID]bool {
	nodes := map[reading.NodeID]bool{}
	for i := range c.stands {
		nodes[c.view(i).Configured] = true
	}
	for _, n := range f.heaters[c.heater] {
		nodes[reading.NodeID(f.log[n].Entry.Node)] = true
	}
	return nodes
}
