package dashboards_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"heaterd/dashboards"
	"heaterd/dashboards/access"
	"heaterd/ingest/reading"
	"heaterd/ingest/source"
)

const noHeaterNames = "that no heater names"

// TestAUnitThatNoHeaterNamesIsTold checks that a mistyped name does not pass in
// silence: the fleet may look quiet while a unit speaks to nobody.
func TestAUnitThatNoHeaterNamesIsTold(t *testing.T) {
	w := newWorld(t)
	unlisted(t, w.store, "m-O1", 10*time.Minute)
	unlisted(t, w.store, "n-99", 25*time.Hour)
	unlisted(t, w.store, "n-08", time.Minute)
	page := w.page(t, "/")
	has(t, page, "2 units that no heater names have been heard: ",
		`<a href="/nodes/m-O1">m-O1</a> (last noted 10 min ago, named nearly like m-01 of heater <a href="/heaters/M-01">M-01</a>, which is not heard); `,
		`<a href="/nodes/n-21">n-21</a> (last noted 3 h ago). What they send is refused until the configuration names them.`)
	for _, not := range []string{"n-99", "/nodes/n-08"} {
		if strings.Contains(page, not) {
			t.Errorf("%s is told: it is long ago, or listed since", not)
		}
	}
	for i := range 6 {
		unlisted(t, w.store, reading.NodeID(fmt.Sprintf("x-%d", i)), time.Duration(i)*time.Second)
	}
	has(t, w.page(t, "/"), "8 units that no heater names", "; and 3 more. What they send")
}

// TestUnlistedUnitsAreForThoseWhoCanFitThem checks that a viewer is not told
// what only others can put right.
func TestUnlistedUnitsAreForThoseWhoCanFitThem(t *testing.T) {
	w := newWorld(t, withUsers(t))
	for role, told := range map[access.Role]bool{access.Viewer: false, access.Technician: true, access.Safety: true} {
		r := newRequest(http.MethodGet, "/")
		r.Header.Set("Authorization", "Bearer secret-"+string(role))
		if got := strings.Contains(serve(w, r).Body.String(), noHeaterNames); got != told {
			t.Errorf("%s: told %v, want %v", role, got, told)
		}
	}
}

// TestNoHeaterIsNamedWhereItIsAGuess: of two that are as likely none is named,
// and none whose own unit is heard.
func TestNoHeaterIsNamedWhereItIsAGuess(t *testing.T) {
	for name, units := range map[string][2]reading.NodeID{"two": {"u-11", "u-12"}, "heard": {"q-7", "u-13"}} {
		t.Run(name, func(t *testing.T) {
			v := quietView(3)
			for i, u := range units {
				v.Heaters[i].Node, v.Heaters[i].Heard = u, 0
			}
			v.Heaters[2].Node = "u-14"
			if name == "heard" {
				v.Heaters[1].Heard = instant(-time.Second)
			}
			w := newWorld(t, viewing(v))
			unlisted(t, w.store, "u-15", time.Minute)
			page := w.page(t, "/")
			has(t, page, `<a href="/nodes/u-15">u-15</a> (last noted 1 min ago)`)
		})
	}
}

// TestAnUnheardHeaterSaysWhereItsUnitIsExpected checks that whoever fits a unit
// need not look the topic up.
func TestAnUnheardHeaterSaysWhereItsUnitIsExpected(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Heard = 0
	w := newWorld(t, func(o *dashboards.Options) { o.View, o.Sources = viewOf(v), source.Defaults() })
	const words = "<code>sites/quay/nodes/n-07/telemetry</code>"
	has(t, w.page(t, "/heaters/H-07"), "expected at "+words)
	has(t, w.page(t, "/nodes/n-07"), "It is expected at "+words+".")
	if heard := w.page(t, "/heaters/H-08"); strings.Contains(heard, "expected at") {
		t.Error("a heater that is heard says where its unit is expected")
	}
	w = newWorld(t, viewing(v))
	if page := w.page(t, "/heaters/H-07"); strings.Contains(page, "expected at") {
		t.Error("a topic is told that nobody knows")
	}
}
