package shutdown

import (
	"cmp"
	"math"
	"slices"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// Check is a cause to look for; its word is what a visit writes down as found.
type Check string

// The checks.
const (
	FuelLevel    Check = "fuel level"
	PumpPressure Check = "pump pressure"
	Hoses        Check = "hoses"
	Filters      Check = "filters"
	PumpRotor    Check = "pump rotor"
	Photocell    Check = "photocell window"
	Wax          Check = "wax in the fuel"
)

// cause is a check with its share of causes before anything is known (common
// practice, no source) and what to do.
type cause struct {
	check Check
	share float64
	text  string
}

var causes = [...]cause{
	{FuelLevel, 0.20, "fuel level: look into the tank, and for water at its bottom"},
	{Filters, 0.20, "filters: fuel filter and air filters clean"},
	{Photocell, 0.18, "photocell window: clean, and the cell seated"},
	{PumpPressure, 0.15, "pump pressure: by the gauge, against the heater's plate"},
	{Hoses, 0.12, "hoses: fuel and air lines tight, not kinked, not frozen"},
	{PumpRotor, 0.10, "pump rotor: vanes free and not worn"},
	{Wax, 0.05, "wax in the fuel: a hypothesis, diesel can cloud at −7 °C; look for it at the filter"},
}

// lockout is said with every shutdown that stopped a flame.
const lockout = "the safety control: if it has locked out it did its work; reset it at the heater once the cause is found, never bypass it"

// checks ranks what to look at first.
func checks(e *Evidence, why outcome.Ending, o *Options) []string {
	switch why {
	case outcome.SupplyLost:
		return []string{"the supply: generator, breaker and cable to the heater", lockout}
	case outcome.SiteWide:
		return []string{
			"the supply of the site: generator and distribution",
			"wind: doors and sides opened, gusts on the heaters",
			"a fuel supply that the heaters share", lockout,
		}
	case outcome.FuelOut:
		return []string{causes[0].text, "the fuel line: bleed it after an empty tank, by the heater's manual", lockout}
	}
	if e.CallTaken(o) {
		return append(append([]string{supplyHere}, e.ranked(o)...), lockout)
	}
	return append(e.ranked(o), lockout)
}

// supplyHere is looked at first where the call for heat went with the flame.
const supplyHere = "the supply: plug, switch, breaker and cable of the heater"

// ranked orders the causes by what the evidence suggests and what earlier
// visits found, the former worth PriorVisits visits.
func (e *Evidence) ranked(o *Options) []string {
	type scored struct {
		text  string
		score float64
	}
	var list []scored
	total := 0.0
	for _, c := range causes {
		total += c.share * e.suggests(c.check, o)
	}
	for _, c := range causes {
		w := c.share * e.suggests(c.check, o)
		if w == 0 {
			continue
		}
		list = append(list, scored{c.text, o.PriorVisits*w/total + float64(e.Fixes[string(c.check)])})
	}
	slices.SortStableFunc(list, func(a, b scored) int { return cmp.Compare(b.score, a.score) })
	var out []string
	for _, s := range list[:min(o.ChecksListed, len(list))] {
		out = append(out, s.text)
	}
	return out
}

// suggests gives the factor by which the evidence raises or lowers a cause
// (common practice, no source); 0 rules it out.
func (e *Evidence) suggests(c Check, o *Options) float64 {
	short := e.brief(o)
	switch c {
	case FuelLevel:
		return e.fuelSuggests(o)
	case Wax:
		return e.waxSuggests(o)
	case Photocell:
		return either(short, 2.5, 1)
	case PumpPressure:
		return either(short, 1.5, 1)
	case Filters:
		return either(e.Dusty, 1.5, 1)
	}
	return 1
}

func either(yes bool, a, b float64) float64 {
	if yes {
		return a
	}
	return b
}

func (e *Evidence) fuelSuggests(o *Options) float64 {
	if level, ok := e.level(); ok {
		return either(level > o.FuelPlenty, 0.2, 3)
	}
	if e.FillKnown && e.TankH > 0 {
		return either(e.SinceFillH/e.TankH < 0.6, 0.4, 2.5)
	}
	return 1
}

// waxSuggests: only diesel, only in the cold, by the coldest thermometer.
func (e *Evidence) waxSuggests(o *Options) float64 {
	cold := math.Inf(1)
	if e.HasOutsideC {
		cold = e.OutsideC
	}
	if e.Burn.Before.Carries(reading.Temp) {
		cold = min(cold, float64(e.Burn.Before.Temp))
	}
	return either(e.Fuel == "diesel" && cold <= o.WaxBelowC, 8, 0)
}
