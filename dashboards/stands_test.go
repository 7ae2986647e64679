package dashboards_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/dashboards"
)

// airRecord is the CO record of a space, as a program reads it.
type airRecord struct {
	Peak     float64 `json:"peak_ppm"`
	Coverage float64
}

func (w *world) air(t *testing.T, space string) (r airRecord) {
	t.Helper()
	if err := json.Unmarshal(w.do("GET", "/api/v1/exposure?site=quay&space="+space, nil).Body.Bytes(), &r); err != nil {
		t.Fatal(err)
	}
	return r
}

// The shift's heater is in the hall for its first four hours. What it measured
// there stays the hall's, when it goes to the store room by the configuration,
// and when it goes home.
func TestAirBelongsToWhereItWasMeasured(t *testing.T) {
	hall := fleet.Heater{ID: "H-07", Site: "quay", Space: "hall", Node: "shift"}
	room := hall
	room.Space = "store"
	for name, then := range map[string][]fleet.Heater{"moved": {room}, "gone": nil} {
		t.Run(name, func(t *testing.T) {
			w := shiftWorld(t)
			whole := w.air(t, "hall")
			place := func(at time.Duration, heaters []fleet.Heater) {
				if err := w.opts.Ledger.Place(t.Context(), instant(at), heaters); err != nil {
					t.Fatal(err)
				}
			}
			place(-9*time.Hour, []fleet.Heater{hall})
			if got := w.air(t, "hall"); got != whole {
				t.Errorf("before anything moved: %+v, want %+v", got, whole)
			}
			place(-4*time.Hour, then)
			v := w.opts.View()
			v.Heaters[0].Space, v.Sites[0].Spaces[0].Heaters = "store", nil
			if then == nil {
				v.Heaters = v.Heaters[1:]
			}
			w.handler = dashboards.New(w.opts)
			if got := w.air(t, "hall"); got.Peak != 150 || math.Abs(got.Coverage-whole.Coverage/2) > 0.02 {
				t.Errorf("the hall has %+v, of its first four hours of %+v", got, whole)
			}
			want := 50.0 // of the hours after
			if then == nil {
				want = 0
			}
			if got := w.air(t, "store"); got.Peak != want {
				t.Errorf("the store room has %+v, want at most %.0f ppm", got, want)
			}
		})
	}
}
