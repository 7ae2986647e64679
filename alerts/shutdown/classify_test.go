package shutdown_test

import (
	"slices"
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// ended is a burn of 40 minutes that ended at noon at 14 °C; the thermostat
// is set to 13 °C with 2 °C between.
func ended() shutdown.Evidence {
	e := shutdown.Evidence{
		Thermostat: &fleet.Thermostat{SetpointC: 13, DifferentialC: 2},
		Usual:      shutdown.Usual{N: 8, C: 14, Spread: 0.1},
		LitAtSite:  3,
	}
	e.Burn = burner.Burn{
		Start: noon.Add(-40 * time.Minute), End: noon, EndLow: noon.Add(-2 * time.Second), EndHigh: noon.Add(2 * time.Second),
		Seconds: 2400, TempEnd: 14, HasTemp: true,
	}
	return e
}

func other(after time.Duration, why outcome.Ending) shutdown.Other {
	at := noon.Add(after)
	return shutdown.Other{Heater: "H-2", EndLow: at, End: at, EndHigh: at, Ending: why}
}

// plain is one that was satisfied beyond doubt.
func plain(after time.Duration) shutdown.Other {
	x := other(after, outcome.Satisfied)
	x.Plain = true
	return x
}

func third(after time.Duration, why outcome.Ending) shutdown.Other {
	x := other(after, why)
	x.Heater = "H-3"
	return x
}

// relit says when it lit again and how cold it got until then.
func relit(e *shutdown.Evidence, after time.Duration, lowest float32) {
	e.Relit, e.RelitAfter, e.Lowest, e.HasLowest, e.Relight, e.Known = true, after, lowest, true, lowest, after
}

func said(e *shutdown.Evidence, q reading.Quantity, before, after bool) {
	e.Burn.Before.Has |= q
	e.Burn.After.Has |= q
	if before {
		e.Burn.Before.On |= q
	}
	if after {
		e.Burn.After.On |= q
	}
}

func TestClassify(t *testing.T) {
	tests := map[string]struct {
		given func(*shutdown.Evidence)
		want  outcome.Ending
	}{
		"at the usual temperature, just now": {func(e *shutdown.Evidence) {}, outcome.Satisfied},
		"and lit again a differential colder": {func(e *shutdown.Evidence) {
			relit(e, 50*time.Minute, 11.9)
		}, outcome.Satisfied},
		"sensor offset from the thermostat's": {func(e *shutdown.Evidence) {
			e.Usual.C, e.Burn.TempEnd = 17.5, 17.4
		}, outcome.Satisfied},
		"a sensor that reads low, at the heater's own two temperatures, just now": {func(e *shutdown.Evidence) {
			e.Usual.C, e.UsualOn, e.Burn.TempEnd = 9.4, shutdown.Usual{N: 8, C: 7.5, Spread: 0.1}, 9.5
		}, outcome.Satisfied},
		"it reads low, and went out before that": {func(e *shutdown.Evidence) {
			e.Usual.C, e.UsualOn, e.Burn.TempEnd = 9.4, shutdown.Usual{N: 8, C: 7.5, Spread: 0.1}, 8.1
		}, outcome.Unexplained},
		"it reads low, and goes out where it lit": {func(e *shutdown.Evidence) {
			e.Usual.C, e.UsualOn, e.Burn.TempEnd = 9.4, shutdown.Usual{N: 8, C: 9.2, Spread: 0.1}, 9.4
		}, outcome.Unexplained},
		"a brisk space, warm within two minutes": {func(e *shutdown.Evidence) {
			e.UsualOn, e.Burn.Seconds = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}, 130
		}, outcome.Satisfied},
		"two minutes only, and not warm": {func(e *shutdown.Evidence) {
			e.UsualOn, e.Burn.Seconds, e.Burn.TempEnd = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}, 130, 12.6
		}, outcome.Unexplained},
		"usual not known, about the setpoint": {func(e *shutdown.Evidence) {
			e.Usual = shutdown.Usual{}
		}, outcome.Satisfied},
		"usual not known, below": {func(e *shutdown.Evidence) {
			e.Usual, e.Burn.TempEnd = shutdown.Usual{}, 11.2
		}, outcome.Unexplained},
		"well below the usual": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd = 12.6
		}, outcome.Unexplained},
		"below the usual, although it cycled on": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd = 12.6
			relit(e, 30*time.Minute, 10.8)
		}, outcome.Unexplained},
		"at the usual, but lit again at once": {func(e *shutdown.Evidence) {
			relit(e, 45*time.Second, 13.9)
		}, outcome.Unexplained},
		"at the usual, then let it grow cold": {func(e *shutdown.Evidence) {
			e.Lowest, e.HasLowest, e.Known = 6, true, 6*time.Hour
		}, outcome.Unexplained},
		"then planned hours kept it off": {func(e *shutdown.Evidence) {
			relit(e, 12*time.Hour, 2)
			e.HeldAfter = 20 * time.Minute
		}, outcome.Satisfied},
		"the call fell": {func(e *shutdown.Evidence) {
			said(e, reading.Call, true, false)
			e.Burn.CallFell, e.Burn.TempEnd = noon, 12.6
		}, outcome.Satisfied},
		"the call stands": {func(e *shutdown.Evidence) {
			said(e, reading.Call, true, true)
		}, outcome.Unexplained},
		"no thermostat": {func(e *shutdown.Evidence) {
			e.Thermostat = nil
		}, outcome.Unexplained},
		"thermostat, but nothing measured": {func(e *shutdown.Evidence) {
			e.Burn.HasTemp = false
		}, outcome.Unexplained},
		"silence": {func(e *shutdown.Evidence) {
			e.Burn.Silent, e.Burn.Gap, e.PlannedStop = true, time.Hour, true
		}, outcome.Unknown},
		"planned stop": {func(e *shutdown.Evidence) {
			e.PlannedStop, e.Burn.TempEnd = true, 12.6
		}, outcome.Planned},
		"planned hours, at the usual temperature by chance": {func(e *shutdown.Evidence) {
			e.PlannedWindow = true
			relit(e, 12*time.Hour, 2)
		}, outcome.Planned},
		"the call fell and it cycled on in planned hours": {func(e *shutdown.Evidence) {
			e.PlannedWindow = true
			said(e, reading.Call, true, false)
			e.Burn.CallFell = noon
			relit(e, 50*time.Minute, 12)
		}, outcome.Satisfied},
		"mains lost": {func(e *shutdown.Evidence) {
			said(e, reading.Supply, true, false)
			e.Burn.SupplyFell = noon
		}, outcome.SupplyLost},
		"mains gone long before say nothing": {func(e *shutdown.Evidence) {
			said(e, reading.Supply, false, false)
			e.Burn.SupplyFell, e.Burn.TempEnd = noon.Add(-time.Hour), 12.6
		}, outcome.Unexplained},
		"tank reads empty": {func(e *shutdown.Evidence) {
			said(e, reading.Fuel, false, false)
			e.Burn.Before.Fuel, e.Burn.After.Fuel, e.Burn.TempEnd = 0.02, 0.01, 12.6
		}, outcome.FuelOut},
		"tank reads empty, but it lit again unfilled": {func(e *shutdown.Evidence) {
			said(e, reading.Fuel, false, false)
			e.Burn.Before.Fuel, e.Burn.After.Fuel, e.Burn.TempEnd = 0.02, 0.01, 12.6
			relit(e, 3*time.Minute, 12.5)
		}, outcome.Unexplained},
		"tank reads empty, but it lit again unfilled an hour later": {func(e *shutdown.Evidence) {
			said(e, reading.Fuel, false, false)
			e.Burn.Before.Fuel, e.Burn.After.Fuel, e.Burn.TempEnd = 0.02, 0.01, 12.6
			relit(e, time.Hour, 11.5)
		}, outcome.Unexplained},
		"lit again between readings, colder than the last of them": {func(e *shutdown.Evidence) {
			e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
			relit(e, 8*time.Minute, 12.8)
			e.LowestAge = 3 * time.Minute
		}, outcome.Satisfied},
		"lit again between readings, still too warm": {func(e *shutdown.Evidence) {
			e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
			relit(e, 8*time.Minute, 13.6)
			e.LowestAge = 3 * time.Minute
		}, outcome.Unexplained},
		"a tank's hours since the fill": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 11.6, 11.8, 12.6
		}, outcome.FuelOut},
		"a tank's hours, and filled by somebody who wrote nothing down": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 11.6, 11.8, 12.6
			relit(e, 90*time.Minute, 5)
		}, outcome.FuelOut},
		"nearly a tank's hours, and nobody wrote down a fill": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 10.7, 11.8, 12.6
			relit(e, 90*time.Minute, 5)
		}, outcome.Unexplained},
		"most of a tank's hours, by the plate: the jet burns more": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 10.95, 11.8, 12.6
			relit(e, 90*time.Minute, 5)
		}, outcome.FuelOut},
		"a tank's hours, but it lit again before anybody can have filled it": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 11.6, 11.8, 12.6
			relit(e, 20*time.Minute, 9)
		}, outcome.Unexplained},
		"a tank's hours, but its flame does not hold": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 11.6, 11.8, 12.6
			e.Burn.Seconds, e.Failing = 60, true
		}, outcome.Unexplained},
		"a tank's hours since its record began, and nobody ever wrote down a fill": {func(e *shutdown.Evidence) {
			e.SinceFillH, e.TankH, e.Burn.TempEnd = 11.6, 11.8, 12.6
			relit(e, 90*time.Minute, 5)
		}, outcome.FuelOut},
		"nearly a tank's hours since its record began": {func(e *shutdown.Evidence) {
			e.SinceFillH, e.TankH, e.Burn.TempEnd = 11.2, 11.8, 12.6
			relit(e, 90*time.Minute, 5)
		}, outcome.Unexplained},
		"a tank's hours and little in it, but it lit again unfilled": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 11.6, 11.8, 12.6
			said(e, reading.Fuel, false, false)
			e.Burn.Before.Fuel, e.Burn.After.Fuel = 0.08, 0.08
			relit(e, time.Hour, 11.5)
		}, outcome.Unexplained},
		"a tank's hours, but the sensor reads half": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 11.6, 11.8, 12.6
			said(e, reading.Fuel, false, false)
			e.Burn.Before.Fuel, e.Burn.After.Fuel = 0.5, 0.5
		}, outcome.Unexplained},
		"a tank's hours, but the thermostat explains it": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH = true, 11, 11.8
		}, outcome.Satisfied},
		"exactly a tank's hours, warm by chance: time will tell": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH = true, 11.7, 11.8
		}, outcome.Satisfied},
		"exactly a tank's hours, warm by chance, and it stays out": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH = true, 11.7, 11.8
			e.Known, e.Lowest, e.HasLowest = 4*time.Hour, 7, true
		}, outcome.FuelOut},
		"five heaters within seconds, minutes before planned hours": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.PlannedWindow, e.PlannedLead = 12.6, true, 5*time.Minute
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained), third(-4*time.Second, outcome.Unexplained)}
		}, outcome.SiteWide},
		"satisfied minutes before planned hours": {func(e *shutdown.Evidence) {
			e.PlannedWindow, e.PlannedLead = true, 5*time.Minute
		}, outcome.Satisfied},
		"lit again before the planned stop began": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.PlannedStop, e.PlannedLead = 11, true, 8*time.Minute
			relit(e, 7*time.Minute, 10.9)
		}, outcome.Unexplained},
		"lit again where it usually does": {func(e *shutdown.Evidence) {
			e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
			relit(e, 40*time.Minute, 12)
		}, outcome.Satisfied},
		"lit again where it usually does, by the reading after, for it cools within seconds": {func(e *shutdown.Evidence) {
			e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
			relit(e, 13*time.Minute, 13.8)
			e.Relight = 11.9
		}, outcome.Satisfied},
		"lit again still warm": {func(e *shutdown.Evidence) {
			e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
			relit(e, 13*time.Minute, 13.8)
			e.Relight = 13.7
		}, outcome.Unexplained},
		"got colder than where it usually lights": {func(e *shutdown.Evidence) {
			e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
			relit(e, 40*time.Minute, 10.9)
		}, outcome.Unexplained},
		"got a little colder than that, in the time that it usually stays out": {func(e *shutdown.Evidence) {
			e.UsualOn = shutdown.Usual{N: 8, C: 12.1, Spread: 0.1}
			for range 5 {
				e.Pace.Out.Add(2400)
			}
			relit(e, 40*time.Minute, 11.2)
		}, outcome.Satisfied},
		"a tank's hours, warm by chance, lit again when filled": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Refilled = true, 11, 11.8, true
			relit(e, 70*time.Minute, 12)
		}, outcome.FuelOut},
		"a tank nobody measured, lit again when filled, after about the longest that it ever ran on one": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.LongestFillH, e.Refilled, e.Burn.TempEnd = true, 11, 11.8, true, 12.6
			relit(e, 70*time.Minute, 9)
		}, outcome.FuelOut},
		"the same, warm by chance": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.LongestFillH, e.Refilled = true, 11.7, 11.8, true
			relit(e, 70*time.Minute, 12)
		}, outcome.FuelOut},
		"the same, not as nearly as a tank lasts": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.LongestFillH, e.Refilled = true, 11, 11.8, true
			relit(e, 70*time.Minute, 12)
		}, outcome.Satisfied},
		"it ran for longer than that before": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.LongestFillH, e.Refilled, e.Burn.TempEnd = true, 10, 11.8, true, 12.6
			relit(e, 70*time.Minute, 9)
		}, outcome.Unexplained},
		"a tank nobody measured, filled an hour before": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.Refilled, e.Burn.TempEnd = true, 1, true, 12.6
			relit(e, 70*time.Minute, 9)
		}, outcome.Unexplained},
		"a tank nobody measured, lit again and not filled": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.Burn.TempEnd = true, 11, 12.6
			relit(e, 70*time.Minute, 9)
		}, outcome.Unexplained},
		"more than a tank's hours: a fill was not written down": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 20, 11.8, 12.6
		}, outcome.Unexplained},
		"all three at once": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd = 12.6
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained), third(-4*time.Second, outcome.Unexplained)}
		}, outcome.SiteWide},
		"all at once, this one warm by chance": {func(e *shutdown.Evidence) {
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained), third(-4*time.Second, outcome.Unexplained)}
		}, outcome.SiteWide},
		"all at once, one near the end of its tank": {func(e *shutdown.Evidence) {
			e.FillKnown, e.SinceFillH, e.TankH, e.Burn.TempEnd = true, 11.7, 11.8, 12.6
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained), third(-4*time.Second, outcome.Unexplained)}
		}, outcome.SiteWide},
		"two left beside one that nobody saw": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd = 12.6
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained), third(0, outcome.Unknown)}
		}, outcome.SiteWide},
		"lit again at once inside a planned stop": {func(e *shutdown.Evidence) {
			e.PlannedStop, e.Burn.TempEnd = true, 12.6
			relit(e, 45*time.Second, 12.5)
		}, outcome.Unexplained},
		"both of two": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.LitAtSite = 12.6, 2
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained)}
		}, outcome.SiteWide},
		"two of four": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.LitAtSite = 12.6, 4
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained)}
		}, outcome.Unexplained},
		"another half a minute later: purges and fans differ": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.LitAtSite = 12.6, 2
			e.Others = []shutdown.Other{other(28*time.Second, outcome.Unexplained)}
		}, outcome.SiteWide},
		"another a minute later": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.LitAtSite = 12.6, 2
			e.Others = []shutdown.Other{other(time.Minute, outcome.Unexplained)}
		}, outcome.Unexplained},
		"beside one whose flame never holds": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.LitAtSite = 12.6, 2
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained)}
			e.Others[0].Failing = true
		}, outcome.Unexplained},
		"satisfied beside one of three that failed": {func(e *shutdown.Evidence) {
			e.Others = []shutdown.Other{other(3*time.Second, outcome.Unexplained)}
		}, outcome.Satisfied},
		"the others were satisfied": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd = 12.6
			e.Others = []shutdown.Other{plain(3 * time.Second), plain(0)}
		}, outcome.Unexplained},
		"beside one that went out twice": {func(e *shutdown.Evidence) {
			e.Others = []shutdown.Other{other(-4*time.Second, outcome.Unexplained), other(3*time.Second, outcome.Unexplained)}
		}, outcome.Satisfied},
		"the mains went at another, and nothing is known of them here": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.MainsWith = 12.6, []string{"H-2"}
		}, outcome.SupplyLost},
		"all three at once, and the mains went at one": {func(e *shutdown.Evidence) {
			e.MainsWith = []string{"H-2"}
			e.Others = []shutdown.Other{other(3*time.Second, outcome.SupplyLost), third(-4*time.Second, outcome.Unexplained)}
		}, outcome.SupplyLost},
		"the mains went at another, and here the call with them": {func(e *shutdown.Evidence) {
			e.Burn.TempEnd, e.Burn.CallFell, e.MainsWith = 12.6, noon, []string{"H-2"}
			said(e, reading.Call, true, false)
		}, outcome.SupplyLost},
		"the mains went at another, where this one is satisfied": {func(e *shutdown.Evidence) {
			e.MainsWith = []string{"H-2"}
		}, outcome.Satisfied},
		"the mains went at the others, and here they were there": {func(e *shutdown.Evidence) {
			e.MainsWith = []string{"H-2"}
			e.Others = []shutdown.Other{other(3*time.Second, outcome.SupplyLost), third(-4*time.Second, outcome.Unexplained)}
			said(e, reading.Supply, true, true)
		}, outcome.Satisfied},
	}
	o := shutdown.DefaultOptions()
	for name, c := range tests {
		t.Run(name, func(t *testing.T) {
			e := ended()
			c.given(&e)
			got := shutdown.Classify(e, &o)
			if why := shutdown.Cause(e, &o).Ending; why != got.Ending {
				t.Errorf("the cause alone is %s, with its evidence %s", why, got.Ending)
			}
			if got.Ending != c.want {
				t.Errorf("%s, want %s: %q", got.Ending, c.want, got.Evidence)
			}
			if len(got.Evidence) == 0 {
				t.Error("no evidence given")
			}
			visit := !slices.Contains([]outcome.Ending{outcome.Satisfied, outcome.Planned, outcome.Unknown}, got.Ending)
			if visit != (len(got.Checks) > 0) {
				t.Errorf("checks %q for %s", got.Checks, got.Ending)
			}
		})
	}
}

// A habit is not pulled down by failures, whatever their number below half.
func TestHabitKeepsTheSwitchOff(t *testing.T) {
	var h shutdown.Habit
	if u := h.Usual(); u.N != 0 {
		t.Errorf("%+v", u)
	}
	for i := range 16 {
		c := 14.1 + 0.1*float32(i%3)
		if i%5 < 2 {
			c = 9 + float32(i)/3
		}
		h.Add(c)
	}
	if u := h.Usual(); u.C < 14 || u.C > 14.4 || u.N < 8 {
		t.Errorf("%+v", u)
	}
}
