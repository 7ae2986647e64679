package dashboards_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
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
	w := newWorld(t, viewing(v))
	for _, page := range []string{"/", "/alarms", "/sites/quay"} {
		before(t, w.page(t, page), `id="alarm-quay.hall.co-short-term.1"`, `id="alarm-`+cold.ID)
	}
}

// TestUnclearedAirComesBeforeThings has a space whose CO is below its limit
// again, which nobody has seen, beside a heater that stopped and harms nobody
// for hours. Once it is seen, what holds comes first.
func TestUnclearedAirComesBeforeThings(t *testing.T) {
	for _, acked := range []bool{false, true} {
		v := fixedView()
		stopped, air := v.Alarms[0], v.Alarms[len(v.Alarms)-1]
		air.Acked = acked
		v.Alarms = []alarm.Alarm{stopped, air}
		w := newWorld(t, viewing(v))
		order := []string{`id="alarm-` + air.ID, `id="alarm-` + stopped.ID}
		if acked {
			slices.Reverse(order)
		}
		before(t, w.page(t, "/"), order...)
	}
}

// TestAirThatNobodyMeasuresIsNotSaidToBeBelow: the unit fell silent after the air
// was below its limit again.
func TestAirThatNobodyMeasuresIsNotSaidToBeBelow(t *testing.T) {
	v := fixedView()
	v.Sites[0].Spaces[0].COHeard = false
	w := newWorld(t, viewing(v))
	for path, want := range map[string]string{
		"/": "not cleared, not measured now, below the limit when last heard", "/alarms": "not cleared: not measured now, below the limit when last heard",
		"/sites/quay": "not cleared, not measured now", "/alarms/quay.hall.co-ceiling.1": "not cleared, and not measured now: waits for reset",
	} {
		page := w.page(t, path)
		has(t, page, want)
		if head, _, _ := strings.Cut(page, "What happened lately"); strings.Contains(head, "below the limit now") || strings.Contains(head, "though below the limit: waits") && path != "/alarms/quay.hall.co-ceiling.1" {
			t.Errorf("%s: air that nobody measures is said to be below its limit", path)
		}
	}
}

// TestAnAlarmOfASpaceMarksItsHeaters looks for alarms that are of no single
// heater in the rows of those that stand there, and on their pages.
func TestAnAlarmOfASpaceMarksItsHeaters(t *testing.T) {
	air, cold := fixedAlarms()[3], fixedAlarms()[3]
	cold.ID, cold.Key, cold.Unit = "quay.hall.space-cold.1", alarm.Key{Kind: alarm.SpaceCold, Site: "quay", Space: "hall"}, "Cel"
	for _, a := range []alarm.Alarm{air, cold} {
		v := fixedView()
		v.Alarms = []alarm.Alarm{a}
		w := newWorld(t, viewing(v))
		_, rows, _ := strings.Cut(w.page(t, "/"), `id="rows"`)
		if n := strings.Count(rows, `class="badge critical"`); n != 2 {
			t.Errorf("%s: %d rows are marked, want those of H-07 and H-08", a.Kind, n)
		}
		has(t, w.page(t, "/heaters/H-07"), `id="alarm-`+a.ID)
		if strings.Contains(w.page(t, "/heaters/M-01"), a.ID) {
			t.Errorf("%s: told at a heater of another site", a.Kind)
		}
	}
}

// TestHarmIsNotNowBelowTheLimit has an alarm that still holds, by its delay or
// by its dead-band, while the figure beside it is below its limit again.
func TestHarmIsNotNowBelowTheLimit(t *testing.T) {
	for _, limit := range []float64{0.5, 1e6} {
		v := fixedView()
		for i := range v.Alarms {
			v.Alarms[i].Limit = limit
		}
		page := newWorld(t, viewing(v)).page(t, "/alarms")
		now, below := strings.Contains(page, "<b>Harm</b> now"), strings.Contains(page, "<b>Harm</b> not ruled out: below the limit at this moment")
		if now != (limit < 1) || below == now {
			t.Errorf("limit %g: said to harm now: %v; said to be below: %v", limit, now, below)
		}
	}
}
