package dashboards_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/dashboards"
)

// closedWorld is a hall whose site was taken out of the configuration after
// the first four hours of the regulation's shift.
func closedWorld(t *testing.T) *world {
	w := shiftWorld(t)
	yard := fleet.Heater{ID: "H-07", Site: "yard", Space: "shed", Node: "shift"}
	w.place(t, -9*time.Hour, yard)
	w.place(t, -4*time.Hour)
	v := w.opts.View()
	v.Heaters = v.Heaters[1:]
	v.Begin = instant(-30 * time.Hour)
	w.opts.View = viewOf(v)
	w.handler = dashboards.New(w.opts)
	return w
}

// TestASiteThatIsGoneIsReported checks that its records are found, and that
// nothing is compared with limits that nobody knows any more.
func TestASiteThatIsGoneIsReported(t *testing.T) {
	w := closedWorld(t)
	has(t, w.page(t, "/reports"),
		"yard, shed, in the configuration no more, from 13 to 14 Jan 2026", "/reports/exposure?site=yard&amp;space=shed&amp;from=2026-01-13&amp;to=2026-01-14",
		`<a href="/reports/season?site=yard">yard</a>, in the configuration no more, from 13 to 14 Jan 2026`, `/reports/service?heater=H-07`)
	air := w.page(t, "/reports/exposure?site=yard&space=shed")
	has(t, air, "14 Jan 2026, times in UTC", "This site is in the configuration no more", "days and times are UTC", "no word that none was passed", "<td role=\"cell\">150", "not known</td>")
	if strings.Contains(air, "<td>none</td>") || strings.Contains(air, "Limits: ") {
		t.Error("limits that are not known read as none")
	}
	has(t, w.page(t, "/reports/exposure?format=csv&site=yard&space=shed"), "limits are not known", "not personal exposure")
	has(t, w.page(t, "/reports/season?site=yard"), "This site is in the configuration no more", "H-07", `<option value="yard" selected>`)
	if got := w.season(t, "site=yard")["H-07"]; got["burns"] == "0" || got["space"] != "shed" {
		t.Errorf("season %v", got)
	}
	has(t, w.page(t, "/reports/service?site=yard"), "Refuelled", "This site is in the configuration no more")
	has(t, w.page(t, "/reports/service?heater=H-07"), "Refuelled", "This heater is in the configuration no more")
	has(t, w.page(t, "/log?site=yard"), "Refuelled", `<option value="yard" selected>`)
	has(t, w.page(t, "/log?heater=h-07"), "Refuelled")
	has(t, w.do("GET", "/api/v1/exposure?site=yard&space=shed", nil).Body.String(), `"peak_ppm": 150`)
	for _, path := range []string{"/reports/exposure?site=yard&space=none", "/reports/exposure?site=none&space=shed", "/reports/season?site=none", "/reports/service?heater=none", "/sites/yard"} {
		if rec := w.do("GET", path, nil); rec.Code != 404 {
			t.Errorf("%s: %d", path, rec.Code)
		}
	}
}

// TestASpaceThatIsGoneIsReported checks that a space which its site has no
// more keeps its record, by what the site has now.
func TestASpaceThatIsGoneIsReported(t *testing.T) {
	w := shiftWorld(t)
	whole := w.air(t, "hall")
	hall := fleet.Heater{ID: "H-07", Site: "quay", Space: "hall", Node: "shift"}
	w.place(t, -9*time.Hour, hall)
	w.place(t, -4*time.Hour)
	v := w.opts.View()
	v.Heaters, v.Sites[0].Spaces = v.Heaters[1:], v.Sites[0].Spaces[1:]
	w.opts.View = viewOf(v)
	w.handler = dashboards.New(w.opts)
	if got := w.air(t, "hall"); got.Peak != 150 || math.Abs(got.Coverage-whole.Coverage/2) > 0.02 {
		t.Errorf("%+v, of its first four hours of %+v", got, whole)
	}
	air := w.page(t, "/reports/exposure?site=quay&space=hall")
	has(t, air, "This space is in the configuration no more; heaters stood there until 14 Jan 2026.", "Limits: eu-2017-164", "GMT (Europe/Dublin)")
	if strings.Contains(air, "no word that none") {
		t.Error("a site that is there has limits")
	}
	has(t, w.page(t, "/reports"), "Quay Street hall, hall, in the configuration no more, until 14 Jan 2026")
}
