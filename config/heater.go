package config

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"heaterd/alerts/fleet"
	"heaterd/ingest/nearest"
	"heaterd/ingest/reading"
)

// What a portable heater's figures can be. The ends of the ranges catch a
// wrong unit or a slipped comma; common practice, no source.
var (
	inputRange        = span{1, 2000, "kW"}
	burnRange         = span{0.1, 200, "L/h"}
	tankRange         = span{1, 20_000, "L"}
	setpointRange     = span{-20, 50, "°C"}
	differentialRange = span{0.1, 20, "°C"}
	meterRange        = span{0, 200_000, "h"}
)

const (
	keroseneMJPerL = 37.6 // gross heat of kerosene, 135,000 Btu per US gallon (secondary text)
	mjPerKWh       = 3.6
	plateTolerance = 0.4 // share by which input and burn rate may disagree; common practice, no source
)

func readHeaters(v value, sites []fleet.Site) []fleet.Heater {
	var heaters []fleet.Heater
	ids, nodes := names{}, names{}
	items := v.list("heaters")
	if v.given() && len(items) == 0 {
		v.warn("a list of heaters", "no heaters: nothing is looked after")
	}
	for _, item := range items {
		t := item.table()
		h := readHeater(t)
		ids.claim(t.get("id"), "heater id", h.ID)
		nodes.claim(t.get("node"), "node", string(h.Node))
		checkPlace(t, h, sites)
		checkPlate(t, h)
		h.BurnLPerH = cmp.Or(h.BurnLPerH, burnsByInput(h.InputKW))
		checkSetpoint(t, h, sites)
		t.close()
		heaters = append(heaters, h)
	}
	return heaters
}

func readHeater(t *table) fleet.Heater {
	return fleet.Heater{
		ID:           t.need("id", idAllowed).id(),
		Node:         reading.NodeID(t.get("node").nodeID()),
		Site:         t.need("site", "the id of a site").id(),
		Space:        t.need("space", "the id of a space of its site").id(),
		InputKW:      t.get("input_kw").number(0, inputRange),
		BurnLPerH:    t.get("burn_l_per_h").number(0, burnRange),
		TankL:        t.get("tank_l").number(0, tankRange),
		Fuel:         t.get("fuel").oneOf("", "kerosene", "diesel"),
		Thermostat:   readThermostat(t.get("thermostat").table()),
		Dusty:        t.get("dusty").flag(),
		HoursAtStart: t.get("hours_at_start").number(0, meterRange),
		COCheckDue:   t.get("co_check_due").date(),
	}
}

func readThermostat(t *table) *fleet.Thermostat {
	s := &fleet.Thermostat{
		SetpointC:     t.need("setpoint_c", setpointRange.String()).number(0, setpointRange),
		DifferentialC: t.need("differential_c", differentialRange.String()).number(0, differentialRange),
	}
	t.close()
	if !t.given() {
		return nil
	}
	return s
}

// checkPlace reports a heater whose site or space nobody described.
func checkPlace(t *table, h fleet.Heater, sites []fleet.Site) {
	i := slices.IndexFunc(sites, func(s fleet.Site) bool { return s.ID == h.Site })
	switch {
	case h.Site == "":
		return
	case i < 0:
		t.get("site").unknown("site", h.Site, idsOf(sites, func(s fleet.Site) string { return s.ID }))
	case h.Space != "" && !hasSpace(sites[i], h.Space):
		t.get("space").unknown("space of site "+h.Site, h.Space, idsOf(sites[i].Spaces, func(sp fleet.Space) string { return sp.ID }))
	}
}

func hasSpace(s fleet.Site, id string) bool {
	return slices.ContainsFunc(s.Spaces, func(sp fleet.Space) bool { return sp.ID == id })
}

func idsOf[T any](all []T, id func(T) string) (ids []string) {
	for _, one := range all {
		ids = append(ids, id(one))
	}
	return ids
}

// unknown reports a reference to something that is nowhere described.
func (v value) unknown(what, name string, known []string) {
	if len(v.r.problems) > maxSaid {
		return
	}
	const most = 12
	known = distinct(known)
	allowed := strings.Join(known[:min(len(known), most)], ", ")
	switch {
	case len(known) == 0:
		allowed = "one that this file describes, and it describes none"
	case len(known) > most:
		allowed += ", …"
	}
	if near := nearest.Word(name, known); near != "" {
		v.fail(allowed, "there is no %s %q; did you mean %s?", what, name, near)
		return
	}
	v.fail(allowed, "there is no %s %q", what, name)
}

// distinct drops the empty words, which were complained about, and those
// already there.
func distinct(words []string) (kept []string) {
	seen := map[string]bool{"": true}
	for _, w := range words {
		if !seen[w] {
			kept = append(kept, w)
		}
		seen[w] = true
	}
	return kept
}

// burnsByInput gives the burn rate, L/h to a tenth, of a plate that tells the
// input only; 0 where it tells none.
func burnsByInput(kW float64) float64 { return math.Round(10*kW*mjPerKWh/keroseneMJPerL) / 10 }

// checkPlate doubts a burn rate that does not fit the input.
func checkPlate(t *table, h fleet.Heater) {
	if h.InputKW == 0 || h.BurnLPerH == 0 {
		return
	}
	fromFuel := h.BurnLPerH * keroseneMJPerL / mjPerKWh
	if math.Abs(fromFuel-h.InputKW) > plateTolerance*h.InputKW {
		t.get("burn_l_per_h").warn("", "%s L/h of kerosene is %.0f kW, but input_kw is %s: one of the two is not what the plate says",
			plainNumber(h.BurnLPerH), fromFuel, plainNumber(h.InputKW))
	}
}

// checkSetpoint doubts a thermostat that lets its space get colder than the
// space may.
func checkSetpoint(t *table, h fleet.Heater, sites []fleet.Site) {
	if h.Thermostat == nil {
		return
	}
	lowest := h.Thermostat.SetpointC - h.Thermostat.DifferentialC
	for _, s := range sites {
		for _, sp := range s.Spaces {
			if s.ID == h.Site && sp.ID == h.Space && sp.ProtectAboveC != nil && lowest < *sp.ProtectAboveC {
				t.get("thermostat").warn("", "it lets the space fall to %s °C, and %s must stay above %s °C",
					plainNumber(lowest), sp.ID, plainNumber(*sp.ProtectAboveC))
			}
		}
	}
}
