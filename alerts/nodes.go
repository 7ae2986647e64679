package alerts

import "heaterd/ingest/reading"

// Knows reports whether a node is on a heater, by the configuration or because
// a person fitted it since. It never waits for the loop.
func (w *Watch) Knows(id reading.NodeID) bool {
	_, ok := w.SiteOf(id)
	return ok
}

// SiteOf gives the site of the heater that a node is on. It never waits for
// the loop.
func (w *Watch) SiteOf(id reading.NodeID) (site string, ok bool) {
	site, ok = (*w.nodes.Load())[id]
	return site, ok
}

// noteNodes takes down which nodes are on heaters now.
func (w *Watch) noteNodes() {
	nodes := map[reading.NodeID]string{}
	for _, h := range w.o.Engine.View().Heaters {
		nodes[h.Node] = h.Site
	}
	delete(nodes, "")
	w.nodes.Store(&nodes)
}
