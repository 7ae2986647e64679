package dashboards_test

import (
	"fmt"
	"strings"
	"testing"

	"heaterd/alerts/alarm"
)

// TestOneEventIsOneCard looks at the two alarms about the air of the hall:
// one card, the one that holds first, both with their own links and buttons,
// the procedure once and before either.
func TestOneEventIsOneCard(t *testing.T) {
	v := fixedView()
	for i := range v.Alarms {
		v.Alarms[i].Acked = false
	}
	w := newWorld(t, viewing(v))
	for _, path := range []string{"/", "/heaters/H-07"} {
		page := w.page(t, path)
		before(t, page, `<li class="event">`, "Everyone out by the north door.", "2 alarms about the air of Main hall, Quay Street hall",
			`id="alarm-quay.hall.co-short-term.1"`, `action="/alarms/quay.hall.co-short-term.1/acknowledge"`,
			`id="alarm-quay.hall.co-ceiling.1"`, `action="/alarms/quay.hall.co-ceiling.1/acknowledge"`)
		if n := strings.Count(page, "Everyone out by the north door."); n != 1 {
			t.Errorf("%s says the procedure %d times", path, n)
		}
		if n := strings.Count(page, `<li class="event">`); n != 1 {
			t.Errorf("%s has %d cards for one event", path, n)
		}
	}
}

// TestALatchedAlarmSaysHowBadItWasAndIs looks at an alarm whose readings are
// back to normal, and at the same where nothing is heard any more.
func TestALatchedAlarmSaysHowBadItWasAndIs(t *testing.T) {
	v := fixedView()
	v.Sites[0].Spaces[0].COHeard = true
	w := newWorld(t, viewing(v))
	for _, path := range []string{"/", "/alarms", "/alarms/quay.hall.co-ceiling.1"} {
		has(t, w.page(t, path), "<b>Worst</b> 268\u00a0ppm", "<b>Now</b> 63\u00a0ppm", "<b>Limit</b> 200\u00a0ppm")
	}
	has(t, w.do("GET", "/api/v1/alarms", nil).Body.String(), `"worst": 268`)
	v.Sites[0].Spaces[0].COHeard = false
	deaf := newWorld(t, viewing(v))
	has(t, deaf.page(t, "/alarms/quay.hall.co-ceiling.1"), "<b>Now</b> not heard")
}

// TestWhatHoldsComesFirst looks at a critical alarm that ended and waits for a
// reset beside one of high priority that holds, and one of medium.
func TestWhatHoldsComesFirst(t *testing.T) {
	v := fixedView()
	air := v.Alarms[4]
	medium := v.Alarms[0]
	medium.ID, medium.Key.Heater, medium.Priority, medium.Findings.HasHarm = "M-01.shutdown-unexplained.1", "M-01", alarm.Medium, false
	v.Alarms = []alarm.Alarm{air, medium, v.Alarms[0]}
	w := newWorld(t, viewing(v))
	before(t, w.page(t, "/"), `id="alarm-H-08.shutdown-unexplained.5"`, `id="alarm-M-01.shutdown-unexplained.1"`, `id="alarm-quay.hall.co-ceiling.1"`)
}

// TestAirIsNeverLeftOut looks at more alarms that hold than the list has room
// for, and at air that nobody has cleared yet.
func TestAirIsNeverLeftOut(t *testing.T) {
	v := fixedView()
	air, stop := v.Alarms[4], v.Alarms[0]
	v.Alarms = []alarm.Alarm{air}
	for i := range 30 {
		stop.ID = fmt.Sprintf("H-08.shutdown-unexplained.%d", i)
		v.Alarms = append(v.Alarms, stop)
	}
	w := newWorld(t, viewing(v))
	before(t, w.page(t, "/"), `id="alarm-H-08.shutdown-unexplained.0"`, `id="alarm-quay.hall.co-ceiling.1"`, `<a href="/alarms">5 more</a>`)
}

// TestADoseHasAnActionFigure looks at the one figure of the air that no standard
// limits.
func TestADoseHasAnActionFigure(t *testing.T) {
	v := fixedView()
	for i := range v.Alarms {
		if a := &v.Alarms[i]; a.Kind == alarm.COCeiling {
			a.Kind, a.Unit, a.Value, a.Limit, a.Worst = alarm.CODose, "%", 11, 10, 12
		}
	}
	v.Sites[0].Limits.DosePercent, v.Sites[0].Spaces[0].Air.COHbPercent = 10, 11
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/alarms"), "<b>Action figure</b> 10\u00a0%")
	has(t, w.page(t, "/sites/quay"), "Dose estimate, at or over the action figure")
}
