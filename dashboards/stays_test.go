package dashboards

import (
	"slices"
	"testing"

	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func TestStays(t *testing.T) {
	fit := func(at reading.Instant, heater, node string) ledger.EntryRow {
		return ledger.EntryRow{At: at, Entry: record.Entry{Heater: heater, Task: "fit-node", Node: node}}
	}
	for _, c := range []struct {
		name, configured, now string
		log                   []ledger.EntryRow
		want                  []stay
	}{
		{"never moved", "n-1", "n-1", []ledger.EntryRow{{At: 3, Entry: record.Entry{Heater: "H", Task: "refuel"}}}, []stay{{"n-1", always, never}}},
		{"none", "", "", nil, nil},
		{"a spare came", "n-1", "spare", []ledger.EntryRow{fit(10, "H", "spare")}, []stay{{"n-1", always, 10}, {"spare", 10, never}}},
		{"went to another", "n-1", "", []ledger.EntryRow{fit(10, "G", "n-1")}, []stay{{"n-1", always, 10}}},
		{"went and came back", "n-1", "n-1", []ledger.EntryRow{fit(10, "G", "n-1"), fit(20, "H", "n-1")}, []stay{{"n-1", always, 10}, {"n-1", 20, never}}},
		{"the configuration follows", "n-2", "n-2", []ledger.EntryRow{fit(10, "H", "n-2")}, []stay{{"n-2", 10, never}}},
		{"the configuration names a third", "n-3", "n-3", []ledger.EntryRow{fit(10, "H", "n-2")}, []stay{{"n-3", always, 10}, {"n-2", 10, never}, {"n-3", 10, never}}},
		{"others' are theirs", "n-1", "n-1", []ledger.EntryRow{fit(10, "G", "n-7")}, []stay{{"n-1", always, never}}},
	} {
		h := &fold.HeaterView{Heater: fleet.Heater{ID: "H", Node: reading.NodeID(c.now)}, Configured: reading.NodeID(c.configured)}
		if got := stays(h, c.log); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// A unit that a person fitted goes on through a move; the unit that the
// configuration names afterwards takes its place.
func TestStaysWhereItStood(t *testing.T) {
	at := func(t reading.Instant, space, node string) ledger.Stand {
		return ledger.Stand{Heater: "H", At: t, Place: ledger.Place{Site: "quay", Space: space, Node: reading.NodeID(node)}}
	}
	stands := []ledger.Stand{at(0, "hall", "n-1"), at(20, "tent", "n-1"), at(30, "tent", "n-3"), {Heater: "H", At: 40}}
	log := []ledger.EntryRow{{At: 10, Entry: record.Entry{Heater: "H", Task: "fit-node", Node: "spare"}}}
	for space, want := range map[string][]stay{
		"hall": {{"n-1", always, 10}, {"spare", 10, 20}},
		"tent": {{"spare", 20, 30}, {"n-3", 30, 40}},
	} {
		view := &fold.SpaceView{Space: fleet.Space{ID: space}, Site: "quay"}
		all := (&Stock{}).courses(stands, "")
		if len(all) != 1 {
			t.Fatalf("%d heaters", len(all))
		}
		if got := all[0].staysIn(view, indexFittings(log)); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", space, got, want)
		}
	}
}

// A unit goes from a heater that left to one that is new: its words before are
// those of the place where it was.
func TestStaysOfANewHeater(t *testing.T) {
	at := func(heater string, t reading.Instant, space, node string) ledger.Stand {
		return ledger.Stand{Heater: heater, At: t, Place: ledger.Place{Site: "quay", Space: space, Node: reading.NodeID(node)}}
	}
	stands := []ledger.Stand{
		at("H", 0, "hall", "n-1"), {Heater: "H", At: 20}, at("N", 30, "tent", "spare"), {Heater: "N", At: 40},
	}
	log := []ledger.EntryRow{{At: 10, Entry: record.Entry{Heater: "H", Task: "fit-node", Node: "spare"}}}
	for space, want := range map[string][]stay{"hall": {{"n-1", always, 10}, {"spare", 10, 20}}, "tent": {{"spare", 30, 40}}} {
		view := &fold.SpaceView{Space: fleet.Space{ID: space}, Site: "quay"}
		var got []stay
		for _, c := range (&Stock{}).courses(stands, "") {
			got = append(got, c.staysIn(view, indexFittings(log))...)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", space, got, want)
		}
	}
}
