package dashboards_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/ingest/reading"
)

// TestOldAirIsNotShownAsNow: what a sensor said before it fell silent is no
// reading of the air that somebody is about to breathe.
func TestOldAirIsNotShownAsNow(t *testing.T) {
	v := fixedView()
	for i := range v.Heaters {
		if h := &v.Heaters[i]; h.ID == "H-08" {
			h.Silent, h.Heard = true, instant(-40*time.Minute)
			h.Known = reading.Sample{Has: reading.CO | reading.Temp, CO: 3, Temp: 9}
		}
	}
	hall := &v.Sites[0].Spaces[0]
	hall.COHeard, hall.COPPM, hall.COAt = false, 3, instant(-40*time.Minute)
	w := newWorld(t, viewing(v))
	site := w.page(t, "/sites/quay")
	has(t, site, "No CO sensor here is heard: what the air is like now is not known. The last reading came 40 min ago, at Wed 14 Jan 2026, 14:24 GMT.", `scope="row">Last reading`)
	if strings.Contains(site, `scope="row">Now`) {
		t.Error("the site's page gives the last reading as that of now")
	}
	has(t, w.page(t, "/heaters/H-08"), "3\u00a0ppm"+` <span class="soft">when last heard, Wed 14 Jan 14:24 GMT; not known now</span>`,
		"9\u00a0°C"+` <span class="soft">when last heard`, "As last heard, 40 min ago.")
	has(t, w.page(t, "/?q=H-08"), `<span class="soft">was</span> 3`+"\u00a0ppm", `<span class="soft">was</span> 9`+"\u00a0°C")
	if page := w.page(t, "/?q=H-07"); strings.Contains(page, ">was<") {
		t.Error("a heater that is heard has what it was")
	}
}

// TestWithoutANodeNothingWasMeasured: a strip that is plain says that it was off.
func TestWithoutANodeNothingWasMeasured(t *testing.T) {
	w := newWorld(t)
	has(t, w.page(t, "/heaters/H-09%20%3Cb%3E&%22x%22"), `fill="url(#heater-24h-w-h)"`)
}
