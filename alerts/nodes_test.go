package alerts_test

import (
	"testing"

	"heaterd/ingest/record"
)

func TestAFittedNodeIsKnown(t *testing.T) {
	s := fresh(t)
	_, w := follow(t, s)
	if !w.Knows("n-1") || w.Knows("spare") || w.Knows("") {
		t.Error("as configured")
	}
	fill(t, s, []record.Line{{At: morning}, {At: morning, Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "spare"}}})
	for range 2 { // as it happens, and after a start
		if _, w = follow(t, s); !w.Knows("spare") || w.Knows("n-1") || !w.Knows("n-2") {
			t.Error("after the spare was fitted")
		}
	}
}
