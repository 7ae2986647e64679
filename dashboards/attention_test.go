package dashboards_test

import (
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/dashboards"
)

// TestPeopleComeBeforeThings puts a space that is too cold already, for longer,
// beside bad air in another.
func TestPeopleComeBeforeThings(t *testing.T) {
	v := fixedView()
	cold := v.Alarms[0]
	cold.ID, cold.Space, cold.Heater = "H-08.shutdown-unexplained.6", "store", "H-08"
	cold.Priority, cold.Since = alarm.Critical, instant(-5*time.Hour)
	cold.Findings.HarmEarly, cold.Findings.HarmLate = 0, 0
	v.Alarms = append([]alarm.Alarm{cold}, v.Alarms...)
	w := newWorld(t, func(o *dashboards.Options) { o.View = func() fold.View { return v } })
	for _, page := range []string{"/", "/alarms", "/sites/quay"} {
		before(t, w.page(t, page), `id="alarm-quay.hall.co-short-term.1"`, `id="alarm-`+cold.ID)
	}
}
