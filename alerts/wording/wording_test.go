package wording

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const since = reading.Instant(1_768_197_600_000_000) // 2026-01-12T06:00:00Z

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Skipf("no time zone data: %v", err)
	}
	return z
}

func quay(t testing.TB) *fleet.Site {
	low := 5.0
	return &fleet.Site{
		ID: "quay", Name: "Quay Street hall", Zone: zone(t, "Europe/Dublin"), Activity: "heavy",
		Procedure: "Ring the site office.\nEveryone to the assembly point at the gate.\n",
		Contacts:  []fleet.Contact{{Name: "Site office", Phone: "+000 1 000 0000"}},
		Spaces:    []fleet.Space{{ID: "hall", Name: "Main hall", ProtectAboveC: &low}, {ID: "store", Name: "Paint store"}},
	}
}

// example is an alarm of a kind as the rules bring it.
func example(k alarm.Kind) alarm.Alarm {
	half := 0.92
	a := alarm.Alarm{
		ID: "H-07." + string(k) + ".3", State: alarm.Unacknowledged, Priority: alarm.PriorityOf(k, alarm.Unknown, ""),
		Key: alarm.Key{Kind: k, Site: "quay", Space: "hall", Heater: "H-07"}, Since: since,
	}
	value := func(v, limit float64, unit string) {
		a.Value, a.Limit, a.Unit, a.HasValue = v, limit, unit, true
	}
	harm := func(early, late time.Duration) {
		a.Findings.HasHarm, a.Findings.HarmEarly, a.Findings.HarmLate = true, early, late
	}
	switch k {
	case alarm.COCeiling:
		value(231.4, 200, "ppm")
		a.Worst = 268
	case alarm.COShortTerm, alarm.COShift:
		value(104, 100, "ppm")
		a.Findings.Coverage = &half
	case alarm.CODose:
		value(5.2, 5, "%")
	case alarm.CORising:
		value(62, 200, "ppm")
		harm(20*time.Minute, 45*time.Minute)
	case alarm.ShutdownUnexplained:
		harm(2*time.Hour, 4*time.Hour)
		a.Findings.Evidence = []string{"mains present", "fuel at 41 %", "room 3 °C below the setting"}
		a.Findings.Checks = []string{"Flame sensor: last three stops came within a minute of lighting.", "Fuel filter."}
	case alarm.SpaceCold:
		value(4.46, 5, "Cel")
		a.Heater, a.Findings.Seen = "", []alarm.Seen{
			{Heater: "H-07", Space: "hall", How: alarm.Unlit, Since: since.Add(-4 * time.Hour)},
			{Heater: "H-08", Space: "hall", How: alarm.Lit, Since: since.Add(-time.Hour)},
			{Heater: "H-09", Space: "hall", How: alarm.Silent, Since: since.Add(-20 * time.Hour)},
			{Heater: "H-10", Space: "hall", How: alarm.Unseen},
			{Heater: "H-11", Space: "hall", How: alarm.Planned, Since: since.Add(-9 * time.Hour)},
			{Heater: "H-12", Space: "hall", How: alarm.TakenOut},
		}
	case alarm.SpaceCooling:
		value(8.2, 5, "Cel")
		harm(2*time.Hour, 170*time.Minute)
		a.Heater, a.Findings.Evidence = "", []string{"it fell from 9.4 to 8.2 °C in 55 min with 1 of 2 heaters seen lit"}
		a.Findings.Seen = []alarm.Seen{
			{Heater: "H-07", Space: "hall", How: alarm.Lit, Since: since.Add(-4 * time.Hour)},
			{Heater: "H-08", Space: "hall", How: alarm.TakenOut},
		}
	case alarm.SpaceHot:
		value(31, 30, "Cel")
		a.Heater, a.Findings.Seen = "", []alarm.Seen{{Heater: "H-07", Space: "hall", How: alarm.Lit, Since: since.Add(-4 * time.Hour)}}
	case alarm.FuelLow:
		value(0.11, 0.15, "/")
		harm(3*time.Hour, 5*time.Hour)
	case alarm.ServiceDueSoon, alarm.ServiceDue, alarm.ServiceOverdue:
		a.Detail, a.Findings.Task = "filter", "Change the fuel filter"
	case alarm.NodeClock:
		value(5400, 300, "s")
	case alarm.SiteSilent:
		a.Space, a.Heater, a.Findings.Heaters = "", "", []string{"H-07", "H-08"}
	case alarm.ChannelDown:
		a.Key = alarm.Key{Kind: k, Detail: "duty-mail"}
	case alarm.HeaterOutOfService:
		a.State, a.HeldBy, a.Why = alarm.OutOfService, "A. Reader", "on the bench"
	case alarm.StoreUnavailable:
		a.Key = alarm.Key{Kind: k}
	}
	switch {
	case k.ConcernsPeople():
		a.Heater, a.Findings.Heaters = "", []string{"H-07", "H-08"}
	case k == alarm.NodeSilent, k == alarm.COSensorSuspect, k == alarm.COSensorCheckDue, k == alarm.NodeClock, k == alarm.RuntimeJump:
		a.Node = "n-07"
	}
	return a
}

func facts(t testing.TB, k alarm.Kind) Facts {
	a := example(k)
	f := Of(a, quay(t))
	f.Link, f.Answers = "https://duty.example/alarms/"+a.ID, true
	return f
}

func whole(f Facts) string {
	subject, text := Full(f)
	told := ""
	if t := Told(f); t != Line(f) {
		told = "TOLD\n" + t + "\n\n"
	}
	return fmt.Sprintf("LINE\n%s\n\n%sSHORT\n%s\n\nSUBJECT\n%s\n\nTEXT\n%s", Line(f), told, english.Short(f), subject, text)
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v (run with -update to write it)", err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", name, d)
	}
}

func TestGolden(t *testing.T) {
	for _, k := range alarm.Kinds() {
		t.Run(string(k), func(t *testing.T) { golden(t, string(k)+".txt", whole(facts(t, k))) })
	}
}

func TestGoldenStates(t *testing.T) {
	f := facts(t, alarm.COCeiling)
	f.Ended = since.Add(40 * time.Minute)
	var b strings.Builder
	for _, s := range alarm.States() {
		f.State = s
		if f.Value = 231.4; f.over() {
			f.Value = 12
		}
		fmt.Fprintf(&b, "%s\n%s\n%s\n\n", s, Line(f), english.Short(f))
	}
	f.State, f.Value = alarm.Latched, 231.4
	fmt.Fprintf(&b, "unwatched\n%s\n%s\n\n", Line(f), english.Short(f))
	f.Late = true
	fmt.Fprintf(&b, "late\n%s\n%s\n", Line(f), english.Short(f))
	f = facts(t, alarm.FuelLow)
	f.HeldBy, f.Why, f.Until = "A. Reader", "tanker comes at noon", since.Add(6*time.Hour)
	for _, s := range alarm.States() {
		f.State = s
		fmt.Fprintf(&b, "\n%s\n%s\n", s, Line(f))
	}
	golden(t, "states.txt", b.String())
}

func TestGoldenHTML(t *testing.T) {
	f := facts(t, alarm.COCeiling)
	f.Space = `<script>alert(1)</script>`
	golden(t, "co-ceiling.html", english.HTML(f))
	f.Link = "javascript:alert(1)"
	if strings.Contains(english.HTML(f), `href="javascript`) {
		t.Error("a link runs script")
	}
}

// Who cannot acknowledge, and who reads that it ended, is not asked to.
func TestAsksOnlyThoseWhoCanAnswer(t *testing.T) {
	const ask, see, please = "See and acknowledge", "See the alarm", "Please acknowledge."
	for _, c := range []struct {
		state   alarm.State
		answers bool
		link    string
		please  bool
	}{
		{alarm.Unacknowledged, true, ask, false},
		{alarm.Latched, true, ask, false},
		{alarm.Returned, true, see, true},
		{alarm.Unacknowledged, false, see, false},
		{alarm.Returned, false, see, false},
		{alarm.Normal, false, see, false},
	} {
		f := facts(t, alarm.ShutdownUnexplained)
		f.State, f.Answers = c.state, c.answers
		_, text := Full(f)
		if !strings.Contains(text, "\n"+c.link+"\n"+f.Link+"\n") || !strings.Contains(english.HTML(f), `<h2><a href="`+f.Link+`">`+c.link+`</a></h2>`) {
			t.Errorf("%s, %v: %s", c.state, c.answers, text)
		}
		if short := english.Short(f); strings.Contains(short, please) != c.please {
			t.Errorf("%s, %v: %s", c.state, c.answers, short)
		}
	}
}

// On a phone a number is called, and an address written to, by touching it.
func TestNumbersAreLinksInHTML(t *testing.T) {
	for _, k := range []alarm.Kind{alarm.COCeiling, alarm.FuelLow} {
		f := facts(t, k)
		f.Contacts = append(f.Contacts, fleet.Contact{Phone: "999"}, fleet.Contact{Name: "Gate", Email: "gate@quay.example"}, fleet.Contact{Name: " \n"})
		page := english.HTML(f)
		for _, want := range []string{`<li>Site office, <a href="tel:&#43;00010000000">&#43;000 1 000 0000</a></li>`, `<li><a href="tel:999">999</a></li>`, `<li>Gate, <a href="mailto:gate@quay.example">gate@quay.example</a></li></ul>`} {
			if !strings.Contains(page, want) {
				t.Errorf("%s lacks %s:\n%s", k, want, page)
			}
		}
	}
}

// In every text about air: procedure, people, whom to call, and only then
// the heater.
func TestProcedureBeforeHeater(t *testing.T) {
	for _, k := range alarm.Kinds() {
		if !k.ConcernsPeople() {
			continue
		}
		f := facts(t, k)
		_, text := Full(f)
		inOrder(t, text, "site's procedure", "Ring the site office", "fresh air", "Call", "heater", "area reading", "Low CO does not prove safe air", f.Link)
		inOrder(t, Told(f), "Ring the site office. Everyone to the assembly point at the gate. People out", "fresh air", "heater", "since")
		long := f
		long.Procedure = strings.Repeat("Leave by the nearest door and count heads. ", 100) + "Wait at the gate."
		inOrder(t, Told(long), "Wait at the gate. People out", "since")
		inOrder(t, english.Short(f), "Site procedure", "People out", "fresh air", "heater")
		inOrder(t, Line(f), "procedure", "people out", "fresh air", "heater")
		for _, s := range alarm.States() {
			f.State = s
			if line := Line(f); strings.Contains(line, "eater") && !strings.Contains(line, doLine) {
				t.Errorf("%s, %s: the heater comes first: %s", k, s, line)
			}
		}
		f.State = alarm.Unacknowledged
		f.Procedure, f.Contacts = "", nil
		_, text = Full(f)
		inOrder(t, Told(f), "no procedure here", "fresh air", "heater", "since")
		inOrder(t, text, "no procedure here", "fresh air", "no contacts here", "heater")
		inOrder(t, english.HTML(f), "no procedure here", "fresh air", "no contacts here", "heater")
	}
}

func inOrder(t *testing.T, text string, words ...string) {
	t.Helper()
	from := 0
	for _, w := range words {
		i := strings.Index(text, w)
		if i < from {
			t.Errorf("%q is missing or before %q in:\n%s", w, text[:from], text)
			return
		}
		from = i
	}
}

// No template names something there is not, and every kind has phrases.
func TestTemplatesAreSound(t *testing.T) {
	known := " where kind title heater heaters s node detail task since ended value limit worst harm passed toward soon above last held activity please sure share by why until "
	for _, k := range alarm.Kinds() {
		p, ok := english.kinds[k]
		if !ok || p.title == "" || p.line == "" || p.short == "" {
			t.Errorf("%s has no phrases", k)
		}
		if plain, ok := ascii(p.short + p.overShort); !ok {
			t.Errorf("%s: short is not in plain letters: %s", k, plain)
		}
		for _, text := range append([]string{p.line, p.short, p.over, p.overShort}, p.heater...) {
			for _, m := range regexp.MustCompile(`\{([^}]*)\}`).FindAllStringSubmatch(text, -1) {
				if !strings.Contains(known, " "+m[1]+" ") {
					t.Errorf("%s: unknown name %q", k, m[1])
				}
			}
		}
	}
}

func TestSiteTime(t *testing.T) {
	f := facts(t, alarm.SpaceCold)
	f.Since = since.Add(180 * 24 * time.Hour)
	for name, want := range map[string]string{
		"Europe/Dublin": "Sat 11 Jul 07:00 IST", "America/Denver": "Sat 11 Jul 00:00 MDT", "UTC": "Sat 11 Jul 06:00 UTC",
		"America/Sao_Paulo": "Sat 11 Jul 03:00 UTC-03:00", "Asia/Kathmandu": "Sat 11 Jul 11:45 UTC+05:45",
	} {
		f.Zone = zone(t, name)
		if line := Line(f); !strings.Contains(line, want) {
			t.Errorf("%s: %q does not say %s", name, line, want)
		}
	}
	f.Zone = nil
	if line := Line(f); !strings.Contains(line, "06:00 UTC") {
		t.Errorf("without a zone: %q", line)
	}
}

func TestFigures(t *testing.T) {
	for want, got := range map[string]string{
		"231 ppm": figure(231.4, "ppm"), "3.4 ppm": figure(3.42, "ppm"), "4.5 °C": figure(4.46, "Cel"),
		"-4 °C": figure(-4.0, "Cel"), "0 °C": figure(-0.01, "Cel"), "11 %": figure(0.11, "/"), "90 min": figure(5400, "s"),
		"2 to 4 h": between(2*time.Hour, 4*time.Hour), "20 min": between(20*time.Minute, 20*time.Minute),
		"1.9 to 2.4 h": between(116*time.Minute, 144*time.Minute), "90 to 110 min": between(90*time.Minute, 110*time.Minute),
		"20 min to 3 h": between(20*time.Minute, 3*time.Hour), "3 days": span(72 * time.Hour),
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// The value of a wrong clock is what must be added to its stamps; people read
// which way it is wrong.
func TestClockWrongEitherWay(t *testing.T) {
	for value, want := range map[float64]string{5400: ": 90 min behind,", -2458009: ": 28 days ahead,", 0: ": 0 s behind,"} {
		f := facts(t, alarm.NodeClock)
		f.Value = value
		if line, short := Line(f), english.Short(f); !strings.Contains(line, want) || !strings.Contains(short, want) {
			t.Errorf("%v s: %q, %q, want %q", value, line, short, want)
		}
	}
}

func BenchmarkLine(b *testing.B) {
	f := facts(b, alarm.COCeiling)
	b.ReportAllocs()
	for b.Loop() {
		Line(f)
	}
}

// A text read at night says "now", not "in 0 s", and never gives a value that
// reads the same as the limit it passed.
func TestNowAndNearTheLimit(t *testing.T) {
	for _, c := range []struct {
		early, late time.Duration
		want        string
	}{
		{2 * time.Hour, 3 * time.Hour, "harm in 2 to 3 h"},
		{97 * time.Minute, 0, "harm in 97 min at the earliest"},
		{0, 3 * time.Hour, "harm within 3 h"},
		{0, 0, "harm now"},
		{-time.Hour, -time.Minute, "harm now"},
		{30 * time.Second, 0, "harm now"},
	} {
		a := example(alarm.SpaceCold)
		a.Value, a.Limit = 4.96, 5
		a.Findings.HasHarm, a.Findings.HarmEarly, a.Findings.HarmLate = true, c.early, c.late
		line := Line(Of(a, quay(t)))
		if !strings.Contains(line, c.want+".") && !strings.Contains(line, c.want+";") {
			t.Errorf("%v to %v: %s, want %s", c.early, c.late, line, c.want)
		}
		if !strings.Contains(line, "just under 5 °C, to stay above 5 °C") {
			t.Errorf("%s: does not tell the value from the limit", line)
		}
	}
}

// An alarm that came back before it was over says since when its worst value
// counts: it may be older than the time it began again.
func TestWorstSaysFromWhenItCounts(t *testing.T) {
	f := facts(t, alarm.COCeiling)
	f.State, f.Ended = alarm.Latched, f.Since.Add(time.Hour)
	if said := Line(f); !strings.Contains(said, "at worst 268 ppm.") {
		t.Error(said)
	}
	a := alarm.Alarm{Key: alarm.Key{Kind: alarm.COCeiling, Space: "hall"}, State: alarm.Latched, HasValue: true, Worst: 268, Limit: 200, Unit: "ppm",
		Since: f.Since, Raised: f.Since.Add(-3 * time.Hour)}
	if said := Line(Of(a, nil)); !strings.Contains(said, "began Mon 12 Jan 06:00 UTC; at worst 268 ppm since 12 Jan 03:00 UTC.") {
		t.Error(said)
	}
}

// Whoever reads but the short text learns what may go on unseen, and that a dose
// stands beside no limit.
func TestTheShortTextSaysWhatMayGoOn(t *testing.T) {
	for k, want := range map[alarm.Kind]string{
		alarm.NodeSilent: "Heater not watched; the last CO there was 60 ppm.", alarm.SiteSilent: "Not watched; the last CO there was 60 ppm.",
		alarm.COSensorSuspect: "Go by the site's procedure, not by it; the last CO there was 60 ppm.",
	} {
		f := facts(t, k)
		f.Evidence = []string{"the last CO there was 60 ppm"}
		if got := english.Short(f); !strings.Contains(got, want) || len(got) > MaxShort {
			t.Errorf("%s: %s", k, got)
		}
	}
	f := facts(t, alarm.CODose)
	f.State, f.Worst, f.Value = alarm.Latched, 8, 3
	for _, got := range []string{english.Short(f), Line(f)} {
		if strings.Contains(got, "limit") || !strings.Contains(got, "below its action figure again") {
			t.Error(got)
		}
	}
}

// An alarm about heaterd itself is at no site: its end says what works again,
// and leaves no gap where the place would stand.
func TestEndOfWhatIsAtNoSite(t *testing.T) {
	for k, want := range map[alarm.Kind][2]string{
		alarm.ChannelDown: {"Messages by duty-mail get through again; they did not from Mon 12 Jan 06:00 UTC to Mon 12 Jan 06:40 UTC.", "Messages by duty-mail get through again. Please acknowledge."},
		alarm.StoreUnavailable: {"heaterd keeps readings again; it did not from Mon 12 Jan 06:00 UTC to Mon 12 Jan 06:40 UTC: alarms may have been missed then, and records have a gap.",
			"heaterd keeps readings again. Alarms may have been missed. Please acknowledge."},
	} {
		a := example(k)
		a.Site, a.Space, a.Heater, a.Node = "", "", "", ""
		a.State, a.Active, a.Cleared = alarm.Returned, false, a.Since.Add(40*time.Minute)
		f := Of(a, nil)
		f.Answers = true
		if got := Line(f); got != want[0] {
			t.Errorf("%s: %q", k, got)
		}
		if got := english.Short(f); got != want[1] {
			t.Errorf("%s, short: %q", k, got)
		}
	}
	f := facts(t, alarm.FuelLow)
	f.Site, f.Space, f.Heater, f.State = "", "", "", alarm.Normal
	if got := Line(f) + english.Short(f); strings.Contains(got, ", ;") || strings.Contains(got, ", ,") {
		t.Errorf("a gap: %q", got)
	}
}
