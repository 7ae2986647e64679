package alerts

import (
	"testing"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
)

// A message may come in at the very moment at which a start has read back
// where the nodes are. A listed node that was not known then had that message
// refused and acknowledged: it was lost.
func TestAListedNodeIsKnownAtEveryMomentOfAStart(t *testing.T) {
	engine := fold.New(fleet.Fleet{
		Sites:   []fleet.Site{{ID: "quay", Spaces: []fleet.Space{{ID: "hall"}}}},
		Heaters: []fleet.Heater{{ID: "H-1", Node: "n-1", Site: "quay", Space: "hall"}},
	}, fold.DefaultRules())
	for range 2_000 {
		w := New(Options{Engine: engine, Log: unwritten{}})
		began, unknown := make(chan struct{}), make(chan reading.NodeID, 1)
		go func() {
			close(began)
			for w.nodes.Load() == nil {
				if !w.Knows("n-1") {
					unknown <- "n-1"
					return
				}
			}
			unknown <- ""
		}()
		<-began
		w.noteNodes()
		if id := <-unknown; id != "" {
			t.Fatalf("%s is not known while a start ends", id)
		}
	}
}

// unwritten is a log without a line.
type unwritten struct{ Log }

func (unwritten) Last() int64 { return 0 }
