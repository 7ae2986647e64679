package alerts

import "heaterd/ingest/reading"

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
	if nodes := w.nodes.Load(); nodes != nil {
		site, ok = (*nodes)[id]
	}
	return site, ok
}

// noteNodes takes down at which sites nodes are on heaters now.
func (w *Watch) noteNodes() {
	nodes := map[reading.NodeID]string{}
	for _, h := range w.o.Engine.View().Heaters {
		nodes[h.Node] = h.Site
	}
	delete(nodes, "")
	w.nodes.Store(&nodes)
}
