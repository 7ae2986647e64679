package shutdown_test

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// cold is one of the two lit heaters of a site, that went out too cold for its
// thermostat.
func cold() shutdown.Evidence {
	e := ended()
	e.Burn.TempEnd, e.LitAtSite = 12.6, 2
	return e
}

// Of two heaters that go out in the same seconds one may be as warm as its
// thermostat wants by chance.
func TestTwoTogetherOfWhichOneMayBeSatisfied(t *testing.T) {
	o := shutdown.DefaultOptions()
	late := other(28*time.Second, outcome.Satisfied)
	back := other(28*time.Second, outcome.Satisfied)
	back.Relit, back.Plain = noon.Add(31*time.Minute), true
	for _, c := range []struct {
		about string
		other shutdown.Other
		want  outcome.Ending
	}{
		{"in the same seconds", other(3*time.Second, outcome.Satisfied), outcome.SiteWide},
		{"a quarter of a minute apart, by their counters", other(14*time.Second, outcome.Satisfied), outcome.SiteWide},
		{"in the same seconds, satisfied beyond doubt", plain(3 * time.Second), outcome.Unexplained},
		{"half a minute apart", late, outcome.Unexplained},
		{"half a minute apart, and lit again together", back, outcome.SiteWide},
	} {
		e := cold()
		e.Others = []shutdown.Other{c.other}
		relit(&e, 31*time.Minute, 10)
		if got := shutdown.Classify(e, &o); got.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", c.about, got.Ending, got.Evidence, c.want)
		}
	}
}

// What looks like the thermostat's cycle is none beside one that went out and
// came back with it.
func TestLitAgainTogetherIsNoCycle(t *testing.T) {
	o := shutdown.DefaultOptions()
	for _, after := range []time.Duration{31 * time.Minute, 50 * time.Minute} {
		e := ended()
		e.LitAtSite = 2
		relit(&e, 31*time.Minute, 11.9)
		x := other(3*time.Second, outcome.Unexplained)
		x.Relit = noon.Add(after)
		e.Others = []shutdown.Other{x}
		want := outcome.Satisfied
		if after == e.RelitAfter {
			want = outcome.SiteWide
		}
		if got := shutdown.Classify(e, &o); got.Ending != want {
			t.Errorf("the other lit again after %v: %s %q, want %s", after, got.Ending, got.Evidence, want)
		}
	}
}

// Two thermostats in one air may cycle together, time and again: the mains that
// come back keep no heater's time.
func TestTwoThatCycleTogether(t *testing.T) {
	o := shutdown.DefaultOptions()
	for usual, want := range map[float64]outcome.Ending{1800: outcome.Satisfied, 600: outcome.SiteWide} {
		e := ended()
		e.LitAtSite = 2
		for range 7 {
			e.Pace.Lit.Add(2400)
			e.Pace.Out.Add(usual)
		}
		relit(&e, 31*time.Minute, 11.9)
		x := other(12*time.Second, outcome.Unexplained)
		x.Relit = noon.Add(e.RelitAfter)
		e.Others = []shutdown.Other{x}
		if got := shutdown.Classify(e, &o); got.Ending != want {
			t.Errorf("out for 31 min, usually for %.0f s: %s %q, want %s", usual, got.Ending, got.Evidence, want)
		}
	}
}

// A call for heat that the mains feed, or that runs over the switch, goes with
// them: no thermostat stops asking in the cold.
func TestACallThatWentWithTheFlame(t *testing.T) {
	o := shutdown.DefaultOptions()
	for _, c := range []struct {
		about string
		given func(*shutdown.Evidence)
		want  outcome.Ending
	}{
		{"warm", func(*shutdown.Evidence) {}, outcome.Satisfied},
		{"colder than where it lights", func(e *shutdown.Evidence) { e.Burn.TempEnd = 9 }, outcome.Unexplained},
		{"warm, and it never asked again in the cold", func(e *shutdown.Evidence) {
			e.Lowest, e.HasLowest, e.Known = 7, true, 2*time.Hour
		}, outcome.Unexplained},
		{"warm, and the hours off began before it was cold", func(e *shutdown.Evidence) {
			e.Lowest, e.HasLowest, e.Known, e.HeldAfter = 7, true, 2*time.Hour, 10*time.Minute
		}, outcome.Satisfied},
	} {
		e := ended()
		e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
		said(&e, reading.Call, true, false)
		e.Burn.CallFell = noon
		c.given(&e)
		got := shutdown.Classify(e, &o)
		if got.Ending != c.want {
			t.Errorf("%s: %s %q, want %s", c.about, got.Ending, got.Evidence, c.want)
		}
		if c.want == outcome.Unexplained && !strings.HasPrefix(got.Checks[0], "the supply") {
			t.Errorf("%s: first of the checks is %q", c.about, got.Checks[0])
		}
	}
}
