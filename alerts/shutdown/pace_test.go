package shutdown

import (
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// brisk is a heater that warms its space by 2 K in two minutes, read every two.
func brisk() Evidence {
	e := Evidence{
		Burn:       burner.Burn{Seconds: 130, HasTemp: true, TempStart: 10.6, TempEnd: 10.9, Gap: 2 * time.Minute},
		Thermostat: &fleet.Thermostat{SetpointC: 12, DifferentialC: 2},
	}
	for range paceKept {
		e.Pace.Lit.Add(120)
		e.Pace.Out.Add(110)
	}
	for range 40 {
		e.Pace.Warmed(true, true, 2, 2*time.Minute)
		e.Pace.Warmed(false, false, -2, 2*time.Minute)
	}
	return e
}

// Where readings are too far apart for the temperature to tell, how long the
// heater usually burns and stays out does.
func TestABriskSpace(t *testing.T) {
	o := DefaultOptions()
	for _, c := range []struct {
		name string
		do   func(*Evidence)
		want outcome.Ending
	}{
		{"out a moment ago", func(*Evidence) {}, outcome.Satisfied},
		{"lit again as usual", func(e *Evidence) { e.Relit, e.RelitAfter, e.Known = true, 100*time.Second, 100*time.Second }, outcome.Satisfied},
		{"hardly burned", func(e *Evidence) { e.Burn.Seconds, e.Burn.Gap, e.Burn.TempEnd = 20, 30*time.Second, 9.4 }, outcome.Unexplained},
		{"got cold", func(e *Evidence) {
			e.Known, e.HasLowest, e.Lowest = time.Hour, true, 2
		}, outcome.Unexplained},
		{"got cold before hours off began", func(e *Evidence) {
			e.Known, e.HeldAfter, e.ChilledAfter = 3*time.Hour, 2*time.Hour, 20*time.Minute
		}, outcome.Unexplained},
		{"hours off a day ahead hold nothing", func(e *Evidence) {
			e.Known, e.HeldAfter, e.HasLowest, e.Lowest = time.Hour, 24*time.Hour, true, 2
		}, outcome.Unexplained},
		{"lit again as usual, and it asked for heat by the next reading", func(e *Evidence) { asked(e, 90*time.Second) }, outcome.Satisfied},
		{"lit again as usual, but it asked for heat within seconds", func(e *Evidence) { asked(e, 20*time.Second) }, outcome.Unexplained},
	} {
		e := brisk()
		c.do(&e)
		if v := Classify(e, &o); v.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", c.name, v.Ending, v.Evidence, c.want)
		}
	}
}

// asked says that the thermostat asked for heat so long after the end, and
// that the heater lit again then.
func asked(e *Evidence, after time.Duration) {
	e.Relit, e.RelitAfter, e.Known = true, 100*time.Second, 100*time.Second
	e.Burn.EndLow = 1_000_000
	e.Burn.After = burner.Around{At: e.Burn.EndLow.Add(after), Has: reading.Call, On: reading.Call}
}

// Nobody measures how warm it is: then its habit is all there is, and it must
// have one.
func TestByHabitAlone(t *testing.T) {
	o := DefaultOptions()
	e := brisk()
	e.Burn.HasTemp = false
	if v := Classify(e, &o); v.Ending != outcome.Satisfied {
		t.Errorf("as ever: %s %q", v.Ending, v.Evidence)
	}
	e.Known = time.Hour
	if v := Classify(e, &o); v.Ending != outcome.Unexplained {
		t.Errorf("out for an hour: %s %q", v.Ending, v.Evidence)
	}
	e.Known, e.Pace = 0, Pace{}
	if v := Classify(e, &o); v.Ending != outcome.Unexplained {
		t.Errorf("no habit known: %s %q", v.Ending, v.Evidence)
	}
}

func TestOneLongStayOutMovesNoHabit(t *testing.T) {
	var l Lengths
	for i := range 3 * paceKept {
		l.Add(100 + float64(i%3))
	}
	l.Add(20_000)
	if s, known := l.Usual(4); !known || s < 100 || s > 102 {
		t.Errorf("usually %v s, known %v", s, known)
	}
	if _, known := l.Usual(paceKept + 1); known {
		t.Error("known from fewer than asked for")
	}
}

// More than half of the last stays out may be none of the thermostat's: of
// those, no two are alike.
func TestStaysOutForOtherReasonsMoveNoHabit(t *testing.T) {
	var l Lengths
	for _, s := range []float64{1698, 414, 522, 536, 42386, 10290, 3502} {
		l.Add(s)
	}
	if s, known := l.Usual(4); !known || s < 414 || s > 536 {
		t.Errorf("usually %v s, known %v", s, known)
	}
}

// Units that fall silent with a heater that goes out tell of the site's mains;
// one alone tells of itself.
func TestUnitsThatFallSilentWithIt(t *testing.T) {
	o := DefaultOptions()
	for n, want := range map[int]outcome.Ending{1: outcome.Unexplained, 3: outcome.SiteWide} {
		e := Evidence{LitAtSite: n + 1}
		e.Burn = burner.Burn{Seconds: 3000, Gap: 30 * time.Second, EndLow: 1_000_000_000, End: 1_010_000_000, EndHigh: 1_020_000_000}
		for i := range n {
			e.Others = append(e.Others, Other{Heater: string(rune('A' + i)), EndLow: 995_000_000, End: 995_000_000, EndHigh: 9_000_000_000, Ending: outcome.Unknown})
		}
		if v := Classify(e, &o); v.Ending != want {
			t.Errorf("%d silent: %s %q, want %s", n, v.Ending, v.Evidence, want)
		}
	}
}
