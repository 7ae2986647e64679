package dashboards_test

import (
	"strings"
	"testing"

	"heaterd/alerts/alarm"
)

// TestAStopOfTheSiteIsToldOnceWithItsRooms looks at two heaters that went out
// together, of which one had been told by itself before.
func TestAStopOfTheSiteIsToldOnceWithItsRooms(t *testing.T) {
	v := fixedView()
	own := v.Alarms[0]
	all := own
	all.ID, all.Key = "quay.shutdown-unexplained.1", alarm.Key{Kind: alarm.ShutdownUnexplained, Site: "quay"}
	all.Findings.Heaters = []string{"H-07", "H-08"}
	own.State, own.Cause = alarm.Suppressed, all.ID
	v.Alarms = []alarm.Alarm{all, own}
	w := newWorld(t, viewing(v))
	for _, heater := range []string{"H-07", "H-08"} {
		page := w.page(t, "/heaters/"+heater)
		before(t, page, `id="alarm-quay.shutdown-unexplained.1"`, `href="/heaters/H-07">H-07</a>, Main hall`, `href="/heaters/H-08">H-08</a>, Main hall`)
		if strings.Contains(page, `id="alarm-H-08.shutdown-unexplained.5"`) {
			t.Errorf("%s tells one stop twice", heater)
		}
	}
	has(t, w.page(t, "/alarms/quay.shutdown-unexplained.1"), `href="/heaters/H-08">H-08</a>, Main hall`)
}
