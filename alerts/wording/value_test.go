package wording

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// The level of a rise is that of a line through readings.
func TestAFittedLevelIsAbout(t *testing.T) {
	f := facts(t, alarm.CORising)
	f.Worst, f.State, f.Ended = 361.3, alarm.Returned, f.Since.Add(time.Hour)
	if said := Line(f); !strings.Contains(said, "at worst about 361 ppm") {
		t.Error(said)
	}
}

// CO that rises no more may stand high: the word that the rise ended says how
// it stands, and does not begin like that of a space that is well again.
func TestARiseThatEndedClearsNothing(t *testing.T) {
	f := facts(t, alarm.CORising)
	f.Value, f.Worst, f.State, f.Ended = 279, 281, alarm.Returned, f.Since.Add(time.Hour)
	for _, said := range []string{Line(f), Short(f)} {
		if !strings.HasPrefix(said, "CO rises no more") || !strings.Contains(said, "about 279 ppm, limit 200 ppm") || !strings.Contains(said, "lears nothing") {
			t.Error(said)
		}
	}
}

// What ended because nothing tells of it any more was not measured to be well.
func TestWhatIsNotWatchedAnyMoreDidNotEnd(t *testing.T) {
	for k, ended := range map[alarm.Kind]float64{alarm.SpaceCold: 5.6, alarm.SpaceHot: 29.4} {
		f := facts(t, k)
		f.State, f.Ended = alarm.Returned, f.Since.Add(time.Hour)
		for _, said := range []string{Line(f), Short(f)} {
			if strings.Contains(said, "Ended") || !strings.Contains(said, "Not watched any more") {
				t.Error(said)
			}
		}
		if f.Value = ended; !strings.HasPrefix(Line(f), "Ended: ") {
			t.Error(Line(f))
		}
	}
	f := facts(t, alarm.COCeiling)
	f.State = alarm.Latched
	if said := Line(f) + Short(f); strings.Contains(said, "below its limit again") || !strings.Contains(said, "clears nothing") {
		t.Error(said)
	}
	if f.State = alarm.Normal; !strings.HasPrefix(Line(f), "Ended: ") {
		t.Errorf("after the reset: %s", Line(f))
	}
}

// What has passed the limit is not expected to.
func TestARiseOverTheLimit(t *testing.T) {
	f := facts(t, alarm.CORising)
	f.Value, f.HarmEarly, f.HarmLate = 281, 0, 0
	for _, said := range []string{Line(f), Short(f)} {
		if strings.Contains(said, "expected") || strings.Contains(said, "now") || !strings.Contains(said, "limit") {
			t.Error(said)
		}
	}
}
