package wording

import (
	"strings"
	"testing"

	"heaterd/alerts/alarm"
)

// A page has room for names in full, and does not point to the procedure that
// stands above. Where there is less room, a sentence cut short ends once.
func TestWholeNamesWhereThereIsRoom(t *testing.T) {
	f := facts(t, alarm.COShift)
	f.Site, f.Space = strings.Repeat("Embankment ", 9)+"works", "Sub-basement plant room east, level minus two"
	if s := Whole(f, true); strings.Contains(s, doLine) || !strings.Contains(s, f.Site) || !strings.Contains(s, f.Space) {
		t.Errorf("on a page: %s", s)
	}
	if s := Whole(f, false); !strings.HasPrefix(s, doLine) {
		t.Errorf("without the procedure above: %s", s)
	}
}

func TestASentenceCutShortEndsOnce(t *testing.T) {
	f, cut := facts(t, alarm.ShutdownUnexplained), false
	f.Air = alarm.COShift
	for n := range 300 {
		f.Findings.Evidence = []string{strings.Repeat("e", n)}
		s := Line(f)
		cut = cut || strings.HasSuffix(s, "e...")
		if strings.Contains(s, "....") {
			t.Fatalf("ends twice: %s", s)
		}
	}
	if !cut {
		t.Error("nothing was cut short")
	}
}

// The text that is kept of an alarm gives the evidence to its end: what to
// believe stands there.
func TestToldIsNotCutShort(t *testing.T) {
	f := facts(t, alarm.COSensorSuspect)
	f.Air = alarm.COCeiling
	f.Evidence = []string{"has read exactly 0 ppm for 1 h while the one of H-08 in the same space reads 61 ppm: it may be dead, or the air is not mixed; believe the higher one"}
	if s := Told(f); !strings.Contains(s, "; believe the higher one; do not rely on it") {
		t.Error(s)
	}
	f.Air = ""
	if s := Line(f); len(s) <= maxLine && !strings.Contains(s, f.Evidence[0]) {
		t.Errorf("cut short where there is room: %s", s)
	}
}

// A list of mails shows subjects alone: one that tells of an end must not read as
// the alarm does.
func TestASubjectSaysThatItIsOver(t *testing.T) {
	for _, c := range []struct {
		kind  alarm.Kind
		state alarm.State
		want  string
	}{
		{alarm.FuelLow, alarm.Unacknowledged, "Medium: Fuel low (11 %), H-07, Main hall, Quay Street hall"},
		{alarm.FuelLow, alarm.Acknowledged, "Medium: Fuel low (11 %), H-07, Main hall, Quay Street hall"},
		{alarm.FuelLow, alarm.Returned, "Ended: Fuel low, H-07, Main hall, Quay Street hall"},
		{alarm.FuelLow, alarm.Normal, "Ended: Fuel low, H-07, Main hall, Quay Street hall"},
		{alarm.COCeiling, alarm.Latched, "CRITICAL: NOT CLEARED. CO at the ceiling (231 ppm), Main hall, Quay Street hall"},
	} {
		f := facts(t, c.kind)
		f.State = c.state
		if got := english.Subject(f); got != c.want {
			t.Errorf("%s %s: %q, want %q", c.kind, c.state, got, c.want)
		}
	}
}
