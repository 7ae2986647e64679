package dashboards_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/dashboards"
)

// TestAUnitNotHeardYetReadsSo checks that fitting a unit does not read as a
// word of it.
func TestAUnitNotHeardYetReadsSo(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Heard, v.Heaters[0].Fitted = 0, instant(-time.Minute)
	w := newWorld(t, func(o *dashboards.Options) { o.View = viewOf(v) })
	for _, path := range []string{"/heaters/H-07", "/nodes/n-07"} {
		has(t, w.page(t, path), "not heard yet since it was fitted at Wed 14 Jan 2026, 15:03 GMT")
	}
	has(t, w.page(t, "/heaters/H-07"), "</span> not heard yet</span>")
	has(t, w.page(t, "/"), `data-l="Heard">not yet<`)
	has(t, w.do("GET", "/api/v1/heaters/H-07", nil).Body.String(), `"heard": null`)
	if strings.Contains(w.page(t, "/heaters/H-07"), "heard never") {
		t.Error("heard never")
	}
}
