package dashboards

import (
	"testing"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// A unit goes from H to G and back while H is moved from the hall to the tent;
// another lies in a box until it is fitted to G.
func TestWhereabouts(t *testing.T) {
	fit := func(at reading.Instant, heater, node string) ledger.EntryRow {
		return ledger.EntryRow{At: at, Entry: record.Entry{Heater: heater, Task: "fit-node", Node: node}}
	}
	stand := func(at reading.Instant, heater, space, node string) ledger.Stand {
		return ledger.Stand{Heater: heater, At: at, Place: ledger.Place{Site: "quay", Space: space, Node: reading.NodeID(node)}}
	}
	stands := []ledger.Stand{stand(0, "G", "yard", ""), stand(0, "H", "hall", "n-1"), stand(25, "H", "tent", "n-1")}
	w := whereabouts((&Stock{}).courses(stands, ""), []ledger.EntryRow{fit(10, "G", "n-1"), fit(20, "H", "n-1"), fit(30, "G", "n-2")})
	for _, c := range []struct {
		node          reading.NodeID
		at            reading.Instant
		heater, space string
	}{
		{"n-1", -5, "H", "hall"}, {"n-1", 9, "H", "hall"}, {"n-1", 10, "G", "yard"}, {"n-1", 19, "G", "yard"},
		{"n-1", 20, "H", "hall"}, {"n-1", 25, "H", "tent"}, {"n-1", 99, "H", "tent"},
		{"n-2", 29, "G", "yard"}, {"n-2", 30, "G", "yard"}, // where it was before, nobody wrote down
		{"n-3", 5, "", ""},
	} {
		heater, place := w.At(c.node, c.at)
		if heater != c.heater || place.Space != c.space {
			t.Errorf("%s at %d: heater %q in %q, want %q in %q", c.node, c.at, heater, place.Space, c.heater, c.space)
		}
	}
}
