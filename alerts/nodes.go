package alerts

import "heaterd/ingest/reading"

// Knows reports whether a node is on a heater, by the configuration or because
// a person fitted it since. It never waits for the loop.
func (w *Watch) Knows(id reading.NodeID) bool { return (*w.nodes.Load())[id] }

// noteNodes takes down which nodes are on heaters now.
func (w *Watch) noteNodes() {
	nodes := map[reading.NodeID]bool{}
	for _, h := range w.o.Engine.View().Heaters {
		nodes[h.Node] = true
	}
	delete(nodes, "")
	w.nodes.Store(&nodes)
}
