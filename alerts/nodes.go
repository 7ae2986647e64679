package alerts

import (
	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

// Knows reports whether a node is on a heater, by the configuration or because
// a person fitted it since. It never waits for the loop: while what people did
// is still being read back, every node may be one, and its messages are kept.
func (w *Watch) Knows(id reading.NodeID) bool {
	nodes := w.nodes.Load() // once: it may come to be known meanwhile
	if nodes == nil {
		return true
	}
	_, ok := (*nodes)[id]
	return ok
}

// SiteOf gives the site of the heater that a node is on, as far as is known. It
// never waits for the loop.
func (w *Watch) SiteOf(id reading.NodeID) (site string, ok bool) {
	h, ok := w.HeaterOf(id)
	return h.Site, ok
}

// HeaterOf gives the heater that a node is on, as far as is known. It never
// waits for the loop.
func (w *Watch) HeaterOf(id reading.NodeID) (h fleet.Heater, ok bool) {
	if nodes := w.nodes.Load(); nodes != nil {
		h, ok = (*nodes)[id]
	}
	return h, ok
}

// noteNodes takes down which nodes are on heaters now.
func (w *Watch) noteNodes() {
	nodes := map[reading.NodeID]fleet.Heater{}
	for _, h := range w.o.Engine.View().Heaters {
		nodes[h.Node] = h.Heater
	}
	delete(nodes, "")
	w.nodes.Store(&nodes)
}
