package dashboards_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"heaterd/alerts/service"
	"heaterd/dashboards"
)

var update = flag.Bool("update", false, "write the golden pages anew; look at the difference before keeping it")

// digests are those of static files in their addresses: they change with
// every change of style and say nothing about a page.
var digests = regexp.MustCompile(`(/static/[a-z.]+)\?[0-9a-f]+`)

// tags are what people do not read.
var tags = regexp.MustCompile(`<[^>]*>`)

// TestGoldenPages compares the main pages of the fixed view byte for byte.
func TestGoldenPages(t *testing.T) {
	w := newWorld(t)
	for name, path := range map[string]string{
		"fleet": "/", "site": "/sites/quay", "heater": "/heaters/H-08", "alarms": "/alarms", "alarm": "/alarms/quay.hall.co-short-term.1",
		"service": "/service", "plan": "/service/plan", "season": "/reports/season?site=quay", "fleet-us": "/?units=us",
	} {
		t.Run(name, func(t *testing.T) {
			got := digests.ReplaceAll([]byte(w.page(t, path)), []byte("$1"))
			file := filepath.Join("testdata", "golden", name+".html")
			if *update {
				if err := os.WriteFile(file, got, 0o600); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if want = normal(want); !bytes.Equal(got, want) {
				t.Errorf("%s differs from %s (run with -update to accept): %s", path, file, firstDifference(string(got), string(want)))
			}
		})
	}
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			return "got " + clip(g[i]) + "\nwant " + clip(w[i])
		}
	}
	return "one is longer"
}

// TestTheProcedureComesFirst checks the order that every text about air keeps:
// the site's procedure, people out and fresh air, the heater.
func TestTheProcedureComesFirst(t *testing.T) {
	w := newWorld(t)
	procedure, heater := "Everyone out by the north door.", "Then the heater"
	before(t, w.page(t, "/alarms/quay.hall.co-short-term.1"), procedure, "People out, fresh air", heater)
	before(t, w.page(t, "/"), procedure, "CO over the short-term limit", "Heater H-08 stopped")
	before(t, w.page(t, "/alarms"), procedure, "CO over the short-term limit")
	before(t, w.page(t, "/sites/quay"), procedure, "Site office", "CO over the short-term limit", "Main hall", "H-07")
	before(t, w.page(t, "/heaters/H-08"), procedure, "CO over the short-term limit", "Run-hours", "First checks")
	before(t, w.page(t, "/service"), procedure, "Alarms about the air there that are not over", "CO at the ceiling, Main hall", "The site&#39;s procedure comes first", "Open the space to fresh air", "500-hour service")
}

// TestWhatIsReadFirst: an alarm's page says where before anything else, and says
// it once; a heater's page how it is before what can wait.
func TestWhatIsReadFirst(t *testing.T) {
	w := newWorld(t)
	page := w.page(t, "/alarms/quay.hall.co-short-term.1")
	before(t, page, "CO over the short-term limit <span class=\"soft\">Main hall, Quay Street hall</span></h1>", "<b>Id</b> quay.hall.co-short-term.1")
	if strings.Contains(page, "What is known") {
		t.Error("what is known stands twice")
	}
	before(t, w.page(t, "/heaters/H-08"), "Heater H-08 stopped", "Run-hours", "Alarms that can wait", "Service due, heater H-08", "What it did")
}

// TestTheVisitsAreListed: who has several sites to visit sees which, before
// what each of them wants.
func TestTheVisitsAreListed(t *testing.T) {
	v := fixedView()
	v.Heaters[2].Standings = standings(service.Due, 0)
	w := newWorld(t, func(o *dashboards.Options) { o.View = viewOf(v) })
	before(t, w.page(t, "/service"), `<a href="#visit-quay">Quay Street hall</a>, 2 heaters`, `<a href="#visit-mill">Mill Road bridge deck</a>, 1 heater`, `id="visit-quay"`)
}

// TestAveragesCarryTheirCaution checks that wherever CO averages stand, it
// says what they do not prove, and how much was measured.
func TestAveragesCarryTheirCaution(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/sites/quay", "/heaters/H-07", "/reports/exposure?site=quay&space=hall"} {
		has(t, w.page(t, path), "not personal exposure", "Low CO does not prove safe air")
	}
	has(t, w.page(t, "/sites/quay"), ">Measured<", "94 %")
	has(t, w.page(t, "/reports/exposure?site=quay&space=hall"), ">Measured<")
	rec := w.do("GET", "/reports/exposure?site=quay&space=hall&format=csv", nil)
	has(t, rec.Body.String(), "not personal exposure", "coverage")
	has(t, w.do("GET", "/api/v1/spaces", nil).Body.String(), "not personal exposure", "coverage_8h")
}

func TestTimesCarryTheirZone(t *testing.T) {
	w := newWorld(t)
	has(t, w.page(t, "/sites/quay"), "Wed 14 Jan 14:14 GMT", "Times in GMT (Europe/Dublin)")
	has(t, w.page(t, "/alarms"), "Wed 14 Jan 14:04 CST") // shelved until, at the other site
}

func TestUnitsAreChosen(t *testing.T) {
	w := newWorld(t)
	rec := w.do("GET", "/heaters/H-07?units=us", nil)
	has(t, rec.Body.String(), "52.2\u00a0°F", "13.7\u00a0gal", "150,000\u00a0Btu/h")
	cookies := rec.Result().Cookies()
	if len(cookies) != 1 || cookies[0].Value != "us" {
		t.Fatalf("the choice is not kept: %v", cookies)
	}
	has(t, w.do("GET", "/heaters/H-07", nil, "Cookie", "units=us").Body.String(), "52.2\u00a0°F")
	has(t, w.do("GET", "/heaters/H-07", nil, "Cookie", "units=furlongs").Body.String(), "11.2\u00a0°C")
}

func TestAllQuietSaysSo(t *testing.T) {
	w := quietWorld(t, 3)
	page := w.page(t, "/")
	has(t, page, "Nothing needs a person now", "no alarm waits for anyone at 3 heaters")
	for _, class := range []string{`badge critical`, `badge high`, `badge medium`} {
		if strings.Contains(page, class) {
			t.Errorf("a quiet page shows %q", class)
		}
	}
}

func TestWhatIsMissingIs404(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/heaters/none", "/sites/none", "/alarms/none.1", "/reports/exposure?site=quay&space=none", "/api/v1/heaters/none", "/static/none.css", "/service.ics?site=none", "/service?site=none"} {
		if rec := w.do("GET", path, nil); rec.Code != 404 {
			t.Errorf("%s: %d", path, rec.Code)
		}
	}
}

func TestNamesAreEscaped(t *testing.T) {
	w := newWorld(t)
	page := w.page(t, "/")
	if strings.Contains(page, `H-09 <b>`) {
		t.Error("a heater's id is not escaped")
	}
	has(t, page, `/heaters/H-09%20%3Cb%3E&amp;%22x%22`)
	has(t, w.page(t, "/heaters/H-09%20%3Cb%3E&%22x%22"), "H-09 &lt;b&gt;")
	if rec := w.do("GET", "/heaters/H-09%20%3Cb%3E&%22x%22/label", nil); rec.Code != 200 {
		t.Errorf("its label: %d", rec.Code)
	}
}

// TestResetComesAfterAcknowledgement checks which buttons a latched alarm has.
func TestResetComesAfterAcknowledgement(t *testing.T) {
	for acked, want := range map[bool][2]bool{false: {true, false}, true: {false, true}} {
		v := fixedView()
		for i := range v.Alarms {
			v.Alarms[i].Acked = acked
		}
		w := newWorld(t, viewing(v))
		page := w.page(t, "/alarms/quay.hall.co-ceiling.1")
		got := [2]bool{strings.Contains(page, `/acknowledge"`), strings.Contains(page, `/reset"`)}
		if got != want {
			t.Errorf("acknowledged %t: buttons to acknowledge and reset %v, want %v", acked, got, want)
		}
		if strings.Contains(page, `/shelve"`) {
			t.Error("an alarm about air can be shelved")
		}
	}
}
