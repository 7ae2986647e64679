package quantity

import (
	"fmt"
	"strconv"
	"strings"

	"heaterd/ingest/reading"
)

// Spec is one quantity of the telemetry contract.
type Spec struct {
	Name     string
	Quantity reading.Quantity // for battery BatteryLevel; the unit decides
	Bool     bool             // true or false; Units, Min and Max mean nothing
	Units    []Unit           // the first is the one it is kept in
	Assumed  string           // unit where none is given; empty: one must be given
	Min, Max float64          // in the first unit; outside is refused
	Source   string           // where Min and Max come from
}

// Unit is a unit a quantity may come in: kept = value × Scale + Offset.
type Unit struct {
	Name      string
	Scale     float64
	Offset    float64
	Secondary bool             // lawful only with SenML secondary units (RFC 8798, RFC 9100)
	Quantity  reading.Quantity // 0: the Spec's
	Min, Max  float64          // in the kept unit, where Quantity is another than the Spec's
}

// kelvinOffset is 0 °C in K, exact by the definition of the degree Celsius
// (SI Brochure, 9th edition, 2.3.1).
const kelvinOffset = 273.15

// specs is the table. Units are SenML's (RFC 8428 section 12.1, RFC 8798);
// "%" is none of them and is taken for /100. "ppm" is secondary by RFC 8798 but
// taken in every pack, because nodes send it so.
var specs = [...]Spec{
	{Name: "flame", Quantity: reading.Flame, Bool: true},
	{
		Name: "runtime", Quantity: reading.Runtime, Assumed: "s",
		Units: []Unit{
			{Name: "s", Scale: 1},
			{Name: "ms", Scale: 1e-3, Secondary: true},
			{Name: "min", Scale: 60, Secondary: true},
			{Name: "h", Scale: 3600, Secondary: true},
		},
		Min: 0, Max: 1e9, Source: "common practice, no source: 1e9 s is 31 years of burning",
	},
	{
		Name: "co", Quantity: reading.CO,
		Units: []Unit{{Name: "ppm", Scale: 1}, {Name: "/", Scale: 1e6}},
		Min:   -50, Max: 1_000_000,
		Source: "common practice, no source: zero drift below; above, pure CO, since what a cell says beyond its range is to alarm, not to be refused",
	},
	{
		Name: "temp", Quantity: reading.Temp, Assumed: "Cel",
		Units: []Unit{{Name: "Cel", Scale: 1}, {Name: "K", Scale: 1, Offset: -kelvinOffset}},
		Min:   -60, Max: 150, Source: "common practice, no source: coldest jobsites to the lip of the outlet",
	},
	{Name: "supply", Quantity: reading.Supply, Bool: true},
	{Name: "call", Quantity: reading.Call, Bool: true},
	{
		Name: "fuel", Quantity: reading.Fuel, Assumed: "/",
		Units: []Unit{
			{Name: "/", Scale: 1},
			{Name: "%", Scale: 1e-2},
			{Name: "/100", Scale: 1e-2, Secondary: true},
		},
		Min: -0.05, Max: 1.05, Source: "common practice, no source: 5 % of sender error, kept as empty or full",
	},
	{
		Name: "battery", Quantity: reading.BatteryLevel,
		Units: []Unit{
			{Name: "/", Scale: 1},
			{Name: "%EL", Scale: 1e-2},
			{Name: "%", Scale: 1e-2},
			{Name: "V", Scale: 1, Quantity: reading.BatteryVolts, Min: 0, Max: 60},
			{Name: "mV", Scale: 1e-3, Secondary: true, Quantity: reading.BatteryVolts, Min: 0, Max: 60},
		},
		Min: -0.05, Max: 1.05, Source: "common practice, no source: 5 % of gauge error; 60 V is above any node's supply",
	},
}

// Names lists the names on the wire, in the contract's order.
func Names() []string {
	names := make([]string, len(specs))
	for i := range specs {
		names[i] = specs[i].Name
	}
	return names
}

// Named finds the quantity called name on the wire; nil if it is none of ours.
// The Spec is shared and must not be changed.
func Named(name string) *Spec {
	for i := range specs {
		if specs[i].Name == name {
			return &specs[i]
		}
	}
	return nil
}

// Switch gives the sample that carries the quantity as true or false. A
// number is refused with BadField.
func (s *Spec) Switch(on bool) (reading.Sample, error) {
	if !s.Bool {
		return reading.Sample{}, reading.Refuse(reading.BadField, "found %t for %s, allowed: a number", on, s.Name)
	}
	out := reading.Sample{Has: s.Quantity}
	if on {
		out.On = s.Quantity
	}
	return out, nil
}

// Number gives the sample that carries v in the named unit; for true-or-false
// quantities v must be 0 or 1 without a unit or in "/". Secondary units are
// taken where secondary is set. Refused with BadUnit, or BadRange for NaN,
// the infinities and what lies outside the Spec's range.
func (s *Spec) Number(v float64, unit string, secondary bool) (reading.Sample, error) {
	if s.Bool {
		return s.zeroOrOne(v, unit)
	}
	u := s.unit(unit)
	switch { // the unit is cloned for messages only, so that the caller's stays off the heap
	case u == nil:
		return reading.Sample{}, reading.Refuse(reading.BadUnit, "found %s in %q, allowed: %s", s.Name, strings.Clone(unit), s.unitNames(secondary))
	case u.Secondary && !secondary:
		return reading.Sample{}, reading.Refuse(reading.BadUnit,
			"found %s in the secondary unit %q, allowed: %s, or bver 26", s.Name, strings.Clone(unit), s.unitNames(false))
	}
	kept := v*u.Scale + u.Offset
	low, high := s.Min, s.Max
	if u.Quantity != 0 {
		low, high = u.Min, u.Max
	}
	if !(kept >= low && kept <= high) { // NaN fails both
		return reading.Sample{}, reading.Refuse(reading.BadRange, "found %s %s %s, allowed: %s",
			s.Name, compact(v), strings.Clone(unit), s.allowed(u, low, high))
	}
	return s.sample(u, kept), nil
}

func (s *Spec) zeroOrOne(v float64, unit string) (reading.Sample, error) {
	if unit != "" && unit != "/" {
		return reading.Sample{}, reading.Refuse(reading.BadUnit, "found %s in %q, allowed: none", s.Name, strings.Clone(unit))
	}
	if v != 0 && v != 1 {
		return reading.Sample{}, reading.Refuse(reading.BadRange, "found %s %s, allowed: true, false, 0 or 1", s.Name, compact(v))
	}
	return s.Switch(v == 1)
}

func (s *Spec) unit(name string) *Unit {
	if name == "" {
		name = s.Assumed
	}
	for i := range s.Units {
		if s.Units[i].Name == name {
			return &s.Units[i]
		}
	}
	return nil
}

// sample stores v, in the kept unit, where its quantity belongs.
func (s *Spec) sample(u *Unit, v float64) reading.Sample {
	q := s.Quantity
	if u.Quantity != 0 {
		q = u.Quantity
	}
	out := reading.Sample{Has: q}
	switch q {
	case reading.Runtime:
		out.Runtime = v
	case reading.CO:
		out.CO = float32(v)
	case reading.Temp:
		out.Temp = float32(v)
	case reading.Fuel:
		out.Fuel = float32(clampRatio(v))
	case reading.BatteryLevel:
		out.Battery = float32(clampRatio(v))
	case reading.BatteryVolts:
		out.Battery = float32(v)
	}
	return out
}

func clampRatio(v float64) float64 { return min(max(v, 0), 1) }

// unitNames lists the units for a message.
func (s *Spec) unitNames(secondary bool) string {
	var names []string
	for _, u := range s.Units {
		if !u.Secondary || secondary {
			names = append(names, u.Name)
		}
	}
	return strings.Join(names, ", ")
}

func (s *Spec) allowed(u *Unit, low, high float64) string {
	kept := s.Units[0].Name
	if u.Quantity == reading.BatteryVolts {
		kept = "V"
	}
	return compact(low) + " to " + compact(high) + " " + kept
}

func compact(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// CheckUnit says what is wrong with a unit for the quantity, secondary units
// being allowed; nil if nothing.
func (s *Spec) CheckUnit(unit string) error {
	if s.unit(unit) == nil {
		return fmt.Errorf("the unit of %s is %q, allowed: %s", s.Name, unit, s.unitNames(true))
	}
	return nil
}
