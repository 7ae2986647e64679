package shutdown

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// Classify says why a burn ended. A cause is named only on evidence; where
// there is none the ending is unexplained, and unknown if nobody could see.
func Classify(e Evidence, o *Options) Verdict { return e.classify(o, false) }

// Cause is the verdict of Classify without what it rests on.
func Cause(e Evidence, o *Options) Verdict { return e.classify(o, true) }

func (e *Evidence) classify(o *Options, mute bool) Verdict {
	named := e.Thermostat != nil
	if !named {
		e.Thermostat = e.unnamed(o)
	}
	p := satisfaction(e, named, o, mute)
	together, shared := siteWide(e, p, o)
	mains := e.mainsElsewhere() && (shared || p.sum < o.Needed)
	if v, ok := seen(e, p.sum, shared || mains, o); ok {
		return v
	}
	if mains {
		text := fmt.Sprintf("the mains were lost at %s as it went out", strings.Join(e.MainsWith, ", "))
		return e.verdict(outcome.SupplyLost, append([]string{text}, p.against()...), o, 0.8)
	}
	out, clear := fuelOut(e, o)
	switch {
	case out != "" && !shared && e.emptied(p, clear, o):
		return e.verdict(outcome.FuelOut, append([]string{out}, p.against()...), o, 0.8)
	case p.sum >= o.Needed && (!shared || p.certain):
		return Verdict{Ending: outcome.Satisfied, Evidence: p.text, Sure: p.sure(o)}
	case shared:
		return e.verdict(outcome.SiteWide, append([]string{together}, p.against()...), o, 0.8)
	}
	if mute {
		return Verdict{Ending: outcome.Unexplained}
	}
	return e.verdict(outcome.Unexplained, e.nothing(p, o), o, sure(o.Needed-p.sum))
}

// Plain reports whether a verdict of satisfied is beyond doubt: the thermostat
// was heard, or the heater cycled on.
func (v *Verdict) Plain(o *Options) bool {
	return v.Ending == outcome.Satisfied && v.Sure >= sure(o.Certain-o.Needed)
}

// sure says how clearly the points speak for a satisfied thermostat.
func (p *points) sure(o *Options) float64 {
	if p.certain {
		return sure(max(p.sum, o.Certain) - o.Needed)
	}
	return sure(p.sum - o.Needed)
}

func sure(margin float64) float64 { return 1 / (1 + math.Exp(-margin)) }

// seen gives the endings that somebody or something has told of.
func seen(e *Evidence, satisfied float64, shared bool, o *Options) (Verdict, bool) {
	b := &e.Burn
	switch {
	case len(e.DarkWith) > 0 && (b.Silent || shared):
		text := fmt.Sprintf("its unit fell silent as it went out, and so did those of %s; no burner ran on meanwhile", strings.Join(e.DarkWith, ", "))
		return e.verdict(outcome.SupplyLost, []string{text}, o, 0.8), true
	case b.Silent:
		text := fmt.Sprintf("the node was silent for %s around the end", span(b.Gap))
		return Verdict{Ending: outcome.Unknown, Evidence: []string{text}, Sure: 1}, true
	case supplyLost(e, o):
		return e.verdict(outcome.SupplyLost, []string{"the mains at the heater were lost as it went out"}, o, 0.95), true
	case e.planned(satisfied, shared, o):
		return Verdict{Ending: outcome.Planned, Evidence: []string{e.plan()}, Sure: 0.9}, true
	}
	return Verdict{}, false
}

// emptied weighs an empty tank against a satisfied thermostat: filling a tank
// that the hours had emptied outweighs a temperature where it might have been
// satisfied. How long one lasts that nobody measured is known by the longest run
// on one fill.
func (e *Evidence) emptied(p points, clear bool, o *Options) bool {
	if p.certain {
		return false
	}
	tank := cmp.Or(e.TankH, e.LongestFillH)
	filled := e.FillKnown && e.Refilled && tank > 0 && math.Abs(e.SinceFillH/tank-1) <= o.TankSure
	return filled || p.sum < o.Needed || clear && !e.LastDrops && p.sum < o.Certain
}

// planned: time off was planned, and the heater neither lit again at once nor
// cycled on by its thermostat.
func (e *Evidence) planned(satisfied float64, shared bool, o *Options) bool {
	if !e.PlannedStop && !e.PlannedWindow {
		return false
	}
	if e.Relit && (e.RelitAfter < o.PlannedLeast || e.RelitAfter <= e.PlannedLead || satisfied >= o.Certain && !e.keptOff(o) ||
		e.PlannedWindow && satisfied >= o.Needed && e.asUsual(o)) {
		return false
	}
	early := o.HoursEarly
	if e.PlannedStop {
		early = o.StopEarly
	}
	return e.PlannedLead <= early || satisfied < o.Needed && !(shared && e.PlannedWindow)
}

// keptOff reports whether it lit again only after its thermostat would have had
// it light: whoever switches a heater off by its thermostat ends the call too.
func (e *Evidence) keptOff(o *Options) bool {
	on, known := e.begins(o)
	return e.Vain >= o.CallVain || known && e.HasLowest && float64(e.Lowest) < on-e.missedDown()
}

func (e *Evidence) plan() string {
	if e.PlannedStop {
		return "a planned stop of this heater was written down"
	}
	return "the site's planned hours off"
}

// supplyLost: the mains went with the flame, or shortly before it.
func supplyLost(e *Evidence, o *Options) bool {
	b := &e.Burn
	gone := b.After.Carries(reading.Supply) && b.After.On&reading.Supply == 0
	after := max(o.SupplyLead, b.Gap)
	fell := b.SupplyFell != 0 && b.SupplyFell >= b.EndLow.Add(-o.SupplyLead) && b.SupplyFell <= b.EndHigh.Add(after)
	return gone && fell
}

// mainsElsewhere reports whether the mains went at other heaters of the site as
// this one went out, and nothing says that its own were there.
func (e *Evidence) mainsElsewhere() bool {
	after := &e.Burn.After
	return len(e.MainsWith) > 0 && !(after.Carries(reading.Supply) && after.On&reading.Supply != 0)
}

// fuelOut gives what says that the tank ran empty; clear if a level sensor
// does, or if it was filled before it lit again. A heater that lights again at
// once was not out of fuel, unless that burned no more than last drops.
func fuelOut(e *Evidence, o *Options) (text string, clear bool) {
	relit := e.Relit && !e.LastDrops
	if relit && e.RelitAfter < o.FuelRelight {
		return "", false
	}
	if level, ok := e.level(); ok {
		if relit && !e.Refilled {
			return "", false // it found fuel, whatever the sensor says
		}
		if level <= o.FuelEmpty {
			return fmt.Sprintf("the tank read %.0f %%", 100*level), true
		}
		if level > o.FuelPlenty {
			return "", false
		}
	}
	unlogged := e.FillKnown && e.TankH > 0 && e.SinceFillH/e.TankH > o.TankHigh // somebody filled it since
	if (!e.FillKnown || unlogged || e.TankH <= 0 && e.longAsEver(o)) && e.Relit && e.filled() {
		return "it lit again only after the tank was filled", false
	}
	if e.TankH <= 0 {
		return "", false
	}
	return e.ranDry(o), e.FillKnown && e.Refilled
}

// filled reports whether the tank was filled before the heater burned again for
// longer than last drops do.
func (e *Evidence) filled() bool { return e.Refilled || e.DropsFilled }

// longAsEver reports whether the heater had run about as long as it ever did on
// one fill, where nobody said how long a tank lasts.
func (e *Evidence) longAsEver(o *Options) bool {
	return e.SinceFillH >= max(o.TankLeastH, o.TankLow*e.LongestFillH)
}

// ranDry gives what the hours since the tank was full say, empty where they
// say nothing. Where nobody wrote down a fill, before or after, they must agree
// more closely.
func (e *Evidence) ranDry(o *Options) string {
	used := e.SinceFillH / e.TankH
	low, high := o.TankLow, o.TankHigh
	switch {
	case !e.FillKnown:
		low, high = 1-o.TankSure, 1+o.TankSure
	case !e.filled():
		low, high = 1-o.TankNear, 1+o.TankNear
	}
	if used < low || used > high || !e.filled() && e.foundFuel(o) {
		return ""
	}
	if !e.FillKnown {
		return fmt.Sprintf("it had run %.1f h since its record began, and nobody wrote down a fill; a full tank lasts about %.1f h", e.SinceFillH, e.TankH)
	}
	return e.sinceFill()
}

func (e *Evidence) sinceFill() string {
	text := fmt.Sprintf("it had run %.1f h since the last known fill, which lasts about %.1f h", max(0, e.SinceFillH), e.TankH)
	if e.GaugeStuck {
		text += "; its fuel gauge stands still"
	}
	return text
}

// tank gives what is known of the fuel, for whoever has to bring some; empty
// where nothing is.
func (e *Evidence) tank(o *Options) string {
	level, read := e.level()
	switch {
	case read:
		return fmt.Sprintf("the tank read %.0f %%", 100*level)
	case !e.FillKnown || e.TankH <= 0:
		return ""
	case e.SinceFillH > o.TankHigh*e.TankH:
		return e.sinceFill() + ": a later one was not written down"
	}
	return e.sinceFill()
}

// foundFuel reports whether the heater had fuel after all, though nobody filled
// it: it lit again before anybody can have fetched some, or this was one of
// several flames that hardly held, or it went on with what it had.
func (e *Evidence) foundFuel(o *Options) bool {
	return e.Relit && !e.LastDrops && (e.RelitAfter < o.FuelFetched || e.wentOn(o)) || e.Failing
}

// wentOn reports whether the heater burned on, for longer than last drops can
// last, until the fill written down next, and all of that from one tank: a fill
// in between that nobody wrote down would have lasted beyond it.
func (e *Evidence) wentOn(o *Options) bool {
	return e.NextFillH > e.SinceFillH+o.TankSure*e.TankH && e.NextFillH <= (1+o.TankNear)*e.TankH
}

func (e *Evidence) level() (float64, bool) {
	b := &e.Burn
	switch {
	case e.GaugeStuck:
		return 0, false
	case b.Before.Carries(reading.Fuel) && b.After.Carries(reading.Fuel):
		return float64(min(b.Before.Fuel, b.After.Fuel)), true
	case b.After.Carries(reading.Fuel):
		return float64(b.After.Fuel), true
	}
	return float64(b.Before.Fuel), b.Before.Carries(reading.Fuel)
}

// brief reports whether the flame had hardly held. One that was lit when it was
// first heard may have burned for days.
func (e *Evidence) brief(o *Options) bool {
	return e.Burn.Seconds < o.ShortBurn.Seconds() && !e.Burn.StartUnseen
}

// nothing lists what speaks against each explanation.
func (e *Evidence) nothing(p points, o *Options) []string {
	text := p.against()
	b := &e.Burn
	if b.After.Carries(reading.Supply) && b.After.On&reading.Supply != 0 {
		text = append(text, "the mains were there")
	}
	if fuel := e.tank(o); fuel != "" {
		text = append(text, fuel)
	}
	if e.brief(o) && e.Thermostat == nil {
		text = append(text, fmt.Sprintf("it had burned for %.0f s only", b.Seconds))
	}
	if b.StartUnseen {
		text = append(text, "it was lit when it was first heard: how long it had burned nobody knows")
	}
	if e.Thermostat == nil {
		text = append(text, "its configuration names no thermostat, and nobody wrote down a stop")
	}
	if len(text) == 0 {
		text = append(text, "nothing that was measured explains it")
	}
	return text
}

// verdict adds the checks to an ending that somebody should look into.
func (e *Evidence) verdict(why outcome.Ending, text []string, o *Options, sure float64) Verdict {
	return Verdict{Ending: why, Evidence: text, Checks: checks(e, why, o), Sure: sure}
}
