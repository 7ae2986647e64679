package ledger

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/alerts/fleet"
)

// What is no news is not written again; a heater that left, and came back, is;
// and a clock that was set back mixes nothing up.
func TestStandsAreWrittenWhereTheyChange(t *testing.T) {
	l := open(t)
	hall := fleet.Heater{ID: "H-07", Site: "quay", Space: "hall", Node: "n-07"}
	other := fleet.Heater{ID: "H-08", Site: "quay", Space: "hall", Node: "n-08"}
	tent := hall
	tent.Space = "tent"
	for _, c := range []struct {
		at      time.Duration
		heaters []fleet.Heater
	}{
		{0, []fleet.Heater{hall, other}}, {time.Hour, []fleet.Heater{hall, other}}, {2 * time.Hour, []fleet.Heater{tent, other}},
		{time.Hour, []fleet.Heater{other}}, {3 * time.Hour, []fleet.Heater{other}}, {4 * time.Hour, []fleet.Heater{tent, other}},
	} {
		must(t, l.Place(ctx, at(c.at), c.heaters))
	}
	got, err := l.Stands(ctx, "")
	must(t, err)
	if d := cmp.Diff([]Stand{
		{"H-07", 0, Place{"quay", "hall", "n-07"}}, {"H-07", at(2 * time.Hour), Place{"quay", "tent", "n-07"}},
		{"H-07", at(2*time.Hour) + 1, Place{}}, {"H-07", at(4 * time.Hour), Place{"quay", "tent", "n-07"}},
		{"H-08", 0, Place{"quay", "hall", "n-08"}},
	}, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}
