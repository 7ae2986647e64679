package dashboards

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func fitted(at reading.Instant, heater, node string) ledger.EntryRow {
	return ledger.EntryRow{At: at, Entry: record.Entry{Heater: heater, Task: "fit-node", Node: node}}
}

// TestFittingsOfOneHeaterSuffice checks that what is looked up of one heater
// tells the same as going through the fittings of all.
func TestFittingsOfOneHeaterSuffice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heater, node := rapid.SampledFrom([]string{"G", "H", "K"}), rapid.SampledFrom([]string{"", "n-1", "n-2", "n-3", "n-4"})
		var log []ledger.EntryRow
		for i := range rapid.IntRange(0, 30).Draw(t, "fittings") {
			log = append(log, fitted(reading.Instant(i), heater.Draw(t, "fitted to"), node.Draw(t, "fitted")))
		}
		c := course{heater: "H"}
		for i := range rapid.IntRange(1, 4).Draw(t, "stands") {
			c.stands = append(c.stands, ledger.Stand{Heater: "H", At: reading.Instant(i * 7), Place: ledger.Place{Site: "quay", Node: reading.NodeID(node.Draw(t, "named"))}})
		}
		if rapid.Bool().Draw(t, "configured still") {
			c.now = &fold.HeaterView{Heater: fleet.Heater{ID: "H", Node: reading.NodeID(node.Draw(t, "carried"))}, Configured: reading.NodeID(node.Draw(t, "configured"))}
		}
		own := indexFittings(log).of(c)
		for i := range c.stands {
			if got, want := c.stays(i, own), c.stays(i, log); !slices.Equal(got, want) {
				t.Fatalf("stand %d: %v, want %v", i, got, want)
			}
		}
	})
}

// BenchmarkWhereabouts finds every node of ten thousand heaters that were moved
// ten times, with one fitting each.
func BenchmarkWhereabouts(b *testing.B) {
	const heaters, moves = 10_000, 10
	var stands []ledger.Stand
	var log []ledger.EntryRow
	for h := range heaters {
		id, node := fmt.Sprint("H-", h), fmt.Sprint("n-", h)
		for m := range moves {
			stands = append(stands, ledger.Stand{Heater: id, At: reading.Instant(m * 1000), Place: ledger.Place{Site: fmt.Sprint("site-", m), Node: reading.NodeID(node)}})
		}
		log = append(log, fitted(reading.Instant(1000+h), id, node))
	}
	for b.Loop() {
		if n := len(whereabouts((&Stock{}).courses(stands, ""), log)); n != heaters {
			b.Fatalf("%d nodes", n)
		}
	}
}
