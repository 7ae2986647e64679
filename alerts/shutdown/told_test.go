package shutdown_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// Whoever is called reads what is known of the fuel, also where it explains
// nothing.
func TestUnexplainedTellsOfTheFuel(t *testing.T) {
	o := shutdown.DefaultOptions()
	for want, given := range map[string]func(*shutdown.Evidence){
		"it had run 4.0 h since the last known fill, which lasts about 11.8 h": func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH = true, 4, 11.8
		},
		"it had run 20.0 h since the last known fill, which lasts about 11.8 h: a later one was not written down": func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH = true, 20, 11.8
		},
		"the tank read 12 %": func(e *shutdown.Evidence) {
			said(e, reading.Fuel, false, false)
			e.Burn.Before.Fuel, e.Burn.After.Fuel = 0.12, 0.12
		},
	} {
		e := ended()
		e.Burn.TempEnd = 11
		given(&e)
		got := shutdown.Classify(e, &o)
		if got.Ending != outcome.Unexplained || !slices.Contains(got.Evidence, want) {
			t.Errorf("%s %q, want %q", got.Ending, got.Evidence, want)
		}
	}
}

// What speaks against the thermostat comes first: an alarm that says that no
// reason is known, and then where the heater usually switches off, puzzles.
func TestUnexplainedBeginsWithWhatSpeaksAgainst(t *testing.T) {
	o := shutdown.DefaultOptions()
	e := ended()
	e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
	relit(&e, 40*time.Minute, 10.9)
	got := shutdown.Classify(e, &o)
	if got.Ending != outcome.Unexplained || !strings.HasPrefix(got.Evidence[0], "it then got down to 10.9 °C") || len(got.Evidence) != 2 {
		t.Errorf("%s %q", got.Ending, got.Evidence)
	}
}

// A heater that was satisfied, and then is asked to light and does not, needs
// somebody; not where it is known what kept it off.
func TestACallInVain(t *testing.T) {
	o := shutdown.DefaultOptions()
	for _, c := range []struct {
		vain, held time.Duration
		want       outcome.Ending
	}{
		{0, 0, outcome.Satisfied},
		{o.CallVain - time.Minute, 0, outcome.Satisfied},
		{o.CallVain, 0, outcome.Unexplained},
		{3 * o.CallVain, 40 * time.Minute, outcome.Satisfied},
		{3 * o.CallVain, 2 * time.Hour, outcome.Unexplained},
	} {
		e := ended()
		said(&e, reading.Call, true, false)
		e.Burn.CallFell = noon
		e.Vain, e.VainAfter, e.HeldAfter, e.Known = c.vain, 30*time.Minute, c.held, 3*time.Hour
		if got := shutdown.Classify(e, &o); got.Ending != c.want {
			t.Errorf("in vain for %v, held after %v: %s %q, want %s", c.vain, c.held, got.Ending, got.Evidence, c.want)
		}
	}
}

func TestChecksFollowTheEvidence(t *testing.T) {
	o := shutdown.DefaultOptions()
	tests := map[string]struct {
		given func(*shutdown.Evidence)
		first string
	}{
		"short burn":         {func(e *shutdown.Evidence) { e.Burn.Seconds = 40 }, "photocell"},
		"tank half known":    {func(e *shutdown.Evidence) { e.FillKnown, e.SinceFillH, e.TankH = true, 8, 10 }, "fuel level"},
		"diesel in the cold": {func(e *shutdown.Evidence) { e.Fuel, e.OutsideC, e.HasOutsideC = "diesel", -12, true }, "wax"},
		"what it was before": {func(e *shutdown.Evidence) { e.Fixes = map[string]int{"pump rotor": 3, "filters": 1} }, "pump rotor"},
	}
	for name, c := range tests {
		t.Run(name, func(t *testing.T) {
			e := ended()
			e.Thermostat = nil
			c.given(&e)
			got := shutdown.Classify(e, &o).Checks
			if !strings.HasPrefix(got[0], c.first) || !strings.Contains(got[len(got)-1], "never bypass") {
				t.Errorf("%q", got)
			}
			if waxed := strings.Contains(strings.Join(got, " "), "wax"); waxed != (c.first == "wax") {
				t.Errorf("wax named: %v", waxed)
			}
		})
	}
}

// A unit that begins to report while its heater burns saw the end of a burn of
// unknown length: nothing follows from how short what it saw was.
func TestABurnThatWasUnderWayIsNotCalledShort(t *testing.T) {
	o := shutdown.DefaultOptions()
	e := ended()
	e.Thermostat, e.Burn.Seconds, e.Burn.StartUnseen = nil, 26, true
	got := shutdown.Classify(e, &o)
	if all := strings.Join(got.Evidence, "; "); got.Ending != outcome.Unexplained || strings.Contains(all, "only") || !strings.Contains(all, "when it was first heard") {
		t.Errorf("%s, %q", got.Ending, got.Evidence)
	}
	if strings.HasPrefix(got.Checks[0], "photocell") {
		t.Errorf("as of a flame that does not hold: %q", got.Checks)
	}
}
