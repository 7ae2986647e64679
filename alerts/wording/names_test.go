package wording

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

func anyFacts(t *rapid.T) Facts {
	text := func(label string) string {
		return rapid.OneOf(rapid.String(), rapid.StringMatching(`[A-Za-z \r\n\x{2028}é°ł漢{}\[\]]{0,120}`)).Draw(t, label)
	}
	number := rapid.Float64()
	return Facts{
		Kind:     rapid.SampledFrom(append(alarm.Kinds(), "unheard-of")).Draw(t, "kind"),
		State:    rapid.SampledFrom(alarm.States()).Draw(t, "state"),
		Taken:    text("taken"),
		Priority: rapid.SampledFrom(alarm.Priorities()).Draw(t, "priority"),
		Site:     text("site"), SiteID: text("site id"), Space: text("space"), SpaceID: text("space id"),
		Heater: text("heater"), Node: text("node"), Detail: text("detail"), Unit: text("unit"),
		Since: reading.Instant(rapid.Int64Range(0, 4e15).Draw(t, "since")),
		Ended: reading.Instant(rapid.Int64Range(0, 4e15).Draw(t, "ended")),
		Value: number.Draw(t, "value"), Limit: number.Draw(t, "limit"), HasValue: rapid.Bool().Draw(t, "has"),
		HeldBy: text("by"), Why: text("why"), Until: reading.Instant(rapid.Int64Range(0, 4e15).Draw(t, "until")),
		Procedure: text("procedure"), Late: rapid.Bool().Draw(t, "late"), Link: text("link"), Answers: rapid.Bool().Draw(t, "may"),
		Contacts: []fleet.Contact{{Name: text("name"), Phone: text("phone")}},
		Earlier:  []Earlier{{Name: text("told"), At: reading.Instant(rapid.Int64Range(0, 4e15).Draw(t, "told at")), Answers: rapid.Bool().Draw(t, "answers")}},
		Findings: alarm.Findings{
			Seen: []alarm.Seen{{Heater: text("seen"), Space: text("room"), How: rapid.SampledFrom([]alarm.How{alarm.Lit, alarm.Silent, ""}).Draw(t, "how")}},
			Sure: text("sure"), Task: text("task"), Heaters: []string{text("h1"), text("h2")},
			HasHarm: rapid.Bool().Draw(t, "harm"), HarmEarly: time.Duration(rapid.Int64().Draw(t, "early")),
			HarmLate: time.Duration(rapid.Int64().Draw(t, "late harm")), Checks: []string{text("check")},
		},
	}
}

// Whatever the names are: texts keep their length, headers stay one line,
// short messages stay in plain letters, and what to do is not cut off.
func TestAnyNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { hold(t, anyFacts(t)) })
}

func FuzzNames(f *testing.F) {
	f.Add("Quay\r\nBcc: x@example.org", "hall", "H-07", "n-07", uint8(0))
	f.Add(strings.Repeat("Long name ", 30), strings.Repeat("漢", 90), "[{where}]", "", uint8(3))
	f.Fuzz(func(t *testing.T, site, space, heater, node string, kind uint8) {
		all := alarm.Kinds()
		hold(t, Facts{
			Kind: all[int(kind)%len(all)], State: alarm.Unacknowledged, Site: site, SiteID: site, Space: space,
			SpaceID: space, Heater: heater, Node: node, Since: since, HasValue: true, Value: 231, Limit: 200, Unit: "ppm",
		})
	})
}

// paired reports whether each isolate ends before the next begins.
func paired(s string) bool {
	open := 0
	for _, r := range s {
		switch r {
		case isolateFrom:
			open++
		case isolateTo:
			open--
		}
		if open < 0 || open > 1 {
			return false
		}
	}
	return open == 0
}

func hold(t interface{ Fatalf(string, ...any) }, f Facts) {
	line, short := Line(f), english.Short(f)
	subject, text := Full(f)
	runes := func(s string) int { return len([]rune(s)) }
	_, plain := ascii(short)
	switch {
	case runes(line) > maxLine || runes(short) > MaxShort || runes(subject) > maxSubject:
		t.Fatalf("too long:\n%q\n%q\n%q", line, short, subject)
	case neat(line) != strings.TrimSpace(line) || neat(subject) != strings.TrimSpace(subject):
		t.Fatalf("not one clean line:\n%q\n%q", line, subject)
	case !paired(line) || !paired(subject):
		t.Fatalf("a name is open at the end, or in another:\n%q\n%q", line, subject)
	case !plain:
		t.Fatalf("not in plain letters: %q", short)
	case subject == "" || line == "" || short == "" || !strings.HasSuffix(text, "\n"):
		t.Fatalf("empty text for %+v", f)
	}
	calls := f.Kind.ConcernsPeople() && (f.State == alarm.Unacknowledged || f.State == alarm.Acknowledged)
	beforeHand := func(text, do, late string) bool { return strings.HasPrefix(strings.TrimPrefix(text, late), do) }
	if calls && (!beforeHand(short, doShort, english.lateTag) || !beforeHand(line, doLine, english.late)) {
		t.Fatalf("what to do does not come first:\n%q\n%q", line, short)
	}
}
