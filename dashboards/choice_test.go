package dashboards_test

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestTheAPIGivesWhatIsAskedFor asks the lists of the API for one site or
// heater: a program that asks for one must not be told of another.
func TestTheAPIGivesWhatIsAskedFor(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct {
		target, key string
		want        map[string]bool
	}{
		{"alarms?site=mill", "site", map[string]bool{"mill": true}},
		{"alarms?site=quay", "site", map[string]bool{"quay": true}},
		{"alarms?heater=H-08", "id", map[string]bool{
			"H-08.shutdown-unexplained.5": true, "H-08.service-due.2": true, "quay.hall.co-short-term.1": true, "quay.hall.co-ceiling.1": true,
		}},
		{"alarms?heater=M-01", "id", map[string]bool{}},
		{"spaces?site=mill", "space", map[string]bool{"deck": true}},
		{"heaters?site=mill", "heater", map[string]bool{"M-01": true}},
		{"heaters?heater=H-07", "heater", map[string]bool{"H-07": true}},
		{"entries?site=mill", "line", map[string]bool{}},
		{"service?heater=H-08", "heater", map[string]bool{"H-08": true}},
	} {
		var rows []map[string]any
		if err := json.Unmarshal([]byte(w.page(t, "/api/v1/"+c.target)), &rows); err != nil {
			t.Fatal(c.target, err)
		}
		got := map[string]bool{}
		for _, r := range rows {
			name, _ := r[c.key].(string)
			got[name] = true
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s: %s", c.target, diff)
		}
	}
	has(t, w.page(t, "/api/v1/entries?site=quay"), `"heater": "H-07"`)
}
