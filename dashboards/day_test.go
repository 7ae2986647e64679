package dashboards_test

import (
	"net/http"
	"strings"
	"testing"

	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/dashboards"
)

func date(t *testing.T, s string) *service.Date {
	t.Helper()
	if s == "" {
		return nil
	}
	d, err := service.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

// TestDueDaysAreSaidAsPeopleSayThem goes through the ways three dates can lie.
func TestDueDaysAreSaidAsPeopleSayThem(t *testing.T) {
	f := func(early, due, late, wantDue, wantLikely string) {
		t.Helper()
		st := service.Standing{DueEarly: date(t, early), DueOn: date(t, due), DueLate: date(t, late)}
		gotDue, gotLikely := dashboards.DueWords(st, *date(t, "2026-11-26"))
		if gotDue != wantDue || gotLikely != wantLikely {
			t.Errorf("%q %q %q: %q, %q, want %q, %q", early, due, late, gotDue, gotLikely, wantDue, wantLikely)
		}
	}
	f("2026-12-03", "2026-12-03", "2026-12-03", "on 3 Dec 2026", "")
	f("2026-12-03", "2026-12-05", "2026-12-09", "about 5 Dec 2026", "between 3 and 9 Dec 2026")
	f("2026-11-28", "2026-11-30", "2026-12-03", "about 30 Nov 2026", "between 28 Nov and 3 Dec 2026")
	f("2026-12-28", "2026-12-30", "2027-01-03", "about 30 Dec 2026", "between 28 Dec 2026 and 3 Jan 2027")
	f("2026-12-03", "2026-12-05", "", "about 5 Dec 2026", "not before 3 Dec 2026")
	f("2026-12-03", "", "", "", "not before 3 Dec 2026")
	f("2026-11-26", "2026-11-26", "2026-11-26", "today", "")
	f("2026-11-20", "2026-11-20", "2026-11-20", "since 20 Nov 2026", "")
	f("2026-11-18", "2026-11-20", "2026-11-21", "since about 20 Nov 2026", "")
	f("", "", "", "", "")
}

// Work whose hours ran out this morning is not still to fall due today.
func TestHoursThatRanOutThisDayAreSaidToBePast(t *testing.T) {
	for left, want := range map[float64]string{-4: "since today", 2: "today"} {
		day := date(t, "2026-11-26")
		st := service.Standing{DueEarly: day, DueOn: day, DueLate: day, HoursLeft: &left}
		if got, _ := dashboards.DueWords(st, *day); got != want {
			t.Errorf("with %g h left: %q, want %q", left, got, want)
		}
	}
}

// TestTasksGoByTheirTitles looks for ids of tasks where people read.
func TestTasksGoByTheirTitles(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/", "/sites/quay", "/service", "/reports/service?heater=H-07", "/log", "/alarms/quality"} {
		text := tags.ReplaceAllString(w.page(t, path), " ")
		for _, id := range []string{"service-500h", "due-soon"} {
			if strings.Contains(text, id) {
				t.Errorf("%s says %q", path, id)
			}
		}
	}
	has(t, w.page(t, "/"), "500-hour service, <span class=\"day\">about 17 Jan 2026</span>")
}

func TestTheTrendIsOneSentence(t *testing.T) {
	v := fixedView()
	v.Heaters[1].Trend = &outcome.Trend{
		Type: "trend", At: instant(0), Heater: "H-08", Endings: 5, Hours: 512, LaplaceZ: 2.1, Shape: 1.9,
		MTBFH: 54, MTBFLowH: 27.4, MTBFHiH: 160, Verdict: "Laplace test: more as it runs on (z 2.10, p 0.036)",
	}
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/heaters/H-08"), "Laplace test: more as it runs on (z 2.10, p 0.036); from 5 endings in 512 burner hours, "+
		"where 4 are the fewest that are judged; now 54 h between two in the mean, 27.4 to 160 h with 90 % confidence.")
	has(t, w.page(t, "/heaters/H-07"), "Too few to judge: it takes 4 unexplained endings. One counts once its reason is final, some days later.")
	all := w.do("GET", "/api/v1/trends", nil).Body.String()
	has(t, all, `"heater": "H-08"`, `"laplace_z": 2.1`, `"mtbf_low_h": 27.4`)
	if strings.Contains(all, "H-07") {
		t.Error("a heater with too few endings has a trend")
	}
	if none := w.do("GET", "/api/v1/trends?site=mill", nil).Body.String(); none != "[]\n" {
		t.Errorf("the trends of a site without any are %s", none)
	}
}

// TestProgramsAreToldProblemsTheirWay asks for what is not there, by every
// method, and for what is there by the wrong one (RFC 9457).
func TestProgramsAreToldProblemsTheirWay(t *testing.T) {
	w := newWorld(t)
	f := func(method, path string, status int, allow string) {
		t.Helper()
		rec := w.do(method, path, nil)
		h := rec.Header()
		if rec.Code != status || h.Get("Content-Type") != "application/problem+json" || h.Get("Allow") != allow {
			t.Errorf("%s %s: %d, %q, Allow %q", method, path, rec.Code, h.Get("Content-Type"), h.Get("Allow"))
		}
		has(t, rec.Body.String(), `"type": "about:blank"`, `"title": "`+http.StatusText(status)+`"`, `"detail": "`, `"status": `)
	}
	f("GET", "/api/v1/nothing", 404, "")
	f("POST", "/api/v1/nothing/at/all", 404, "")
	f("DELETE", "/api/v1/", 404, "")
	f("GET", "/api/v1/heaters/none", 404, "")
	f("POST", "/api/v1/fleet", 405, "GET")
	f("DELETE", "/api/v1/entries", 405, "GET, POST")
	f("GET", "/api/v1/planned-stops", 404, "")
	if rec := w.do("POST", "/nowhere", nil); rec.Code != 404 || !strings.Contains(rec.Header().Get("Content-Type"), "text/html") {
		t.Errorf("a person who posts to nowhere gets %d, %s", rec.Code, rec.Header())
	}
}

func TestAPlannedStopIsEchoedAsItWasAskedFor(t *testing.T) {
	w := newWorld(t)
	for _, given := range []string{"2h", "90m", "3d", "45s"} {
		r := newRequest("POST", "/api/v1/planned-stops")
		r.Body = readCloser(`{"heater":"H-07","for":"` + given + `","by":"Kim"}`)
		has(t, serve(w, r).Body.String(), `"for": "`+given+`"`)
	}
}

// TestWorkThatIsOverHasNoHoursLeft: -12 of them are a riddle.
func TestWorkThatIsOverHasNoHoursLeft(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Standings = []service.Standing{{Task: "service-500h", State: service.Overdue, HoursLeft: ptr(-12.25)}, {Task: "nozzle", State: service.DueSoon, HoursLeft: ptr(3.0)}}
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/heaters/H-07"), `data-l="Hours left">over by 12.3<`, `data-l="Hours left">3<`)
}
