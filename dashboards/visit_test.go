package dashboards_test

import (
	"testing"

	"heaterd/alerts/service"
)

// TestAVisitReadsOnATelephone: numbers are there to be pressed, and each task
// names its heater where the rows stand under one another.
func TestAVisitReadsOnATelephone(t *testing.T) {
	v := fixedView()
	soon := service.DateOf(v.At, zone("Europe/Dublin")) + 3
	for i := range v.Heaters {
		if v.Heaters[i].ID == "H-07" {
			v.Heaters[i].Standings[1].DueOn, v.Heaters[i].Standings[1].DueEarly = &soon, &soon
		}
	}
	page := newWorld(t, viewing(v)).page(t, "/service?site=quay")
	has(t, page, `<a class="call" href="tel:`, `data-l="Task"><a href="/service/plan#service-500h">500-hour service</a>`, `data-l="H-07, task"><a href="/service/plan#photocell">Wipe the photocell window</a>`)
}

// TestALatchedAlarmDidNotEnd: below its limit is not over.
func TestALatchedAlarmDidNotEnd(t *testing.T) {
	has(t, newWorld(t).page(t, "/alarms/quay.hall.co-ceiling.1"), "<b>Below its limit since</b> Tue 13 Jan 2026, 15:04 GMT")
}

// TestWhatIsFarOffIsFolded: ten tasks that are all well stood between the
// chart and the forms.
func TestWhatIsFarOffIsFolded(t *testing.T) {
	before(t, newWorld(t).page(t, "/heaters/H-07"), "Next service</h2>", "500-hour service", `<details id="later"><summary>1 more, the next on 23 Feb 2026</summary>`, "Wipe the photocell window", "Write down</h2>")
}
