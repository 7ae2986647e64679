package wording

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
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
	for _, said := range []string{Line(f), english.Short(f)} {
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
		for _, said := range []string{Line(f), english.Short(f)} {
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
	if said := Line(f) + english.Short(f); strings.Contains(said, "below its limit again") || !strings.Contains(said, "clears nothing") {
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
	for _, said := range []string{Line(f), english.Short(f)} {
		if strings.Contains(said, "expected") || strings.Contains(said, "now") || !strings.Contains(said, "limit") {
			t.Error(said)
		}
	}
}

// Where the set in force has no limit that a rise could be on its way to, none is
// told: 200 ppm is another set's.
func TestARiseTowardsNoLimit(t *testing.T) {
	for _, x := range []struct {
		ppm    float64
		state  alarm.State
		expect []string
	}{
		{62, alarm.Unacknowledged, []string{"about 62 ppm, 200 ppm expected in 20 to 45 min", "about 62 ppm, 200 ppm in 20 to 45 min"}},
		{281, alarm.Unacknowledged, []string{"about 281 ppm, above 200 ppm, since", "about 281 ppm, above 200 ppm, Main"}},
		{281, alarm.Normal, []string{" at about 281 ppm", ": about 281 ppm."}},
	} {
		site := *quay(t)
		site.Limits, _ = exposure.Named("us-osha")
		a := example(alarm.CORising)
		a.Value, a.Limit, a.State = x.ppm, 0, x.state
		f := Of(a, &site)
		for i, said := range []string{Line(f), english.Short(f)} {
			if strings.Contains(said, "limit") || !strings.Contains(said, x.expect[i]) {
				t.Errorf("%q, want %q and no limit", said, x.expect[i])
			}
		}
	}
}

// A figure that rests on what was said last says so by text as well; one that is
// below its limit again says how near to it the last reading was.
func TestHowSureTheAirIs(t *testing.T) {
	f := facts(t, alarm.COShift)
	f.Sure = "the last CO there, 60 ppm 4.3 h ago, is held"
	if said := english.Short(f); !strings.Contains(said, "last CO held, Main hall") {
		t.Error(said)
	}
	f = facts(t, alarm.COCeiling)
	f.State, f.Value = alarm.Latched, 196.4
	if said := Line(f); !strings.Contains(said, "below its limit again (196 ppm then, limit 200 ppm), which clears nothing") {
		t.Error(said)
	}
}

// The dose is compared with an action figure, for which no set has a limit, and
// says whose it is.
func TestTheDoseHasNoLimit(t *testing.T) {
	f := facts(t, alarm.CODose)
	for _, said := range []string{Line(f), english.Short(f)} {
		if strings.Contains(said, "limit") || !strings.Contains(said, "action figure 5 %") {
			t.Error(said)
		}
	}
	if said := Line(f); !strings.Contains(said, "5.2 % at heavy work") {
		t.Error(said)
	}
}
