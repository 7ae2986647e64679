package wording

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

// Names from right to left are kept to themselves, so that no figure is drawn
// into them and where stays before how much; characters that turn what follows
// do not pass.
func TestNamesFromRightToLeft(t *testing.T) {
	began := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))
	f := Facts{
		Kind: alarm.COCeiling, State: alarm.Unacknowledged, Priority: alarm.Critical, Site: "אולם הנמל", SiteID: "port", Space: "قاعة\u202e كبيرة", SpaceID: "hall",
		HasValue: true, Value: 231, Limit: 200, Unit: "ppm", Since: began, Procedure: "כולם החוצה.\nלספור 12 ראשים.",
		Contacts: []fleet.Contact{{Name: "משרד האתר", Phone: "+000 1 000 0000"}},
		Earlier:  []Earlier{{Name: "דנה", At: began.Add(time.Minute), Answers: true}},
	}
	where := "\u2068قاعة كبيرة\u2069, \u2068אולם הנמל\u2069: 231 ppm"
	subject, text := Full(f)
	for what, c := range map[string]struct{ text, want string }{
		"line":      {Line(f), where},
		"subject":   {subject, "(231 ppm), \u2068قاعة كبيرة\u2069, \u2068אולם הנמל\u2069"},
		"letter":    {text, where},
		"told":      {Told(f), "Site's procedure: \u2068כולם החוצה. לספור 12 ראשים.\u2069"},
		"procedure": {text, "- \u2068לספור 12 ראשים.\u2069\n"},
		"contact":   {text, "- \u2068משרד האתר\u2069, +000 1 000 0000\n"},
		"earlier":   {text, "\u2068דנה\u2069"},
		"page":      {english.HTML(f), "<li>\u2068משרד האתר\u2069, <a href="},
	} {
		if !strings.Contains(c.text, c.want) || strings.ContainsRune(c.text, '\u202e') {
			t.Errorf("%s: %q, want in it %q", what, c.text, c.want)
		}
	}
	if short := english.Short(f); strings.ContainsRune(short, isolateFrom) || !strings.Contains(short, "hall, port") {
		t.Errorf("for a phone, which has plain letters only: %q", short)
	}
	f.Space, f.Site = "Main hall", "Quay Street hall"
	if line := Line(f); strings.ContainsRune(line, isolateFrom) {
		t.Errorf("names that need none are isolated: %q", line)
	}
}
