package fleet

import (
	"time"

	"heaterd/alerts/exposure"
	"heaterd/ingest/reading"
)

// Fleet is everything looked after, checked: ids are unique, every heater's
// site and space exist, no two heaters share a node.
type Fleet struct {
	Sites   []Site
	Heaters []Heater
}

// Site is a jobsite.
type Site struct {
	ID         string
	Name       string
	Zone       *time.Location
	Limits     exposure.Limits
	Activity   exposure.Activity
	Procedure  string // what the site wants done; shown first in every alarm that concerns people
	Contacts   []Contact
	Spaces     []Space
	PlannedOff []OffHours
}

// Contact is a person or office of a site.
type Contact struct {
	Name  string
	Phone string
	Email string
}

// Space is a room or tent that people or materials are in.
type Space struct {
	ID            string
	Name          string
	VolumeM3      float64  // m³; 0 unknown
	ProtectAboveC *float64 // °C the space must stay above; nil: nothing to protect
	ProtectBelowC *float64 // °C the space must stay below; nil: no upper limit
}

// OffHours is a weekly stretch in which the site's heaters are meant to be
// off, in the site's zone. To at or before From ends on the next day.
type OffHours struct {
	Days []time.Weekday // days on which it begins
	From time.Duration  // wall-clock time of day
	To   time.Duration
}

// Thermostat is a heater's room thermostat.
type Thermostat struct {
	SetpointC     float64 // °C
	DifferentialC float64 // °C between switching off and on
}

// Heater is one oil-fired forced-air heater.
type Heater struct {
	ID           string
	Node         reading.NodeID // the sensor unit strapped to it; empty: none now
	Site         string
	Space        string
	InputKW      float64     // plate input, kW; 0 unknown
	BurnLPerH    float64     // plate fuel rate, L/h, or what the plate input makes of kerosene; 0 unknown
	TankL        float64     // L; 0 unknown
	Fuel         string      // "kerosene", "diesel" or empty
	Thermostat   *Thermostat // nil: runs until switched off
	Dusty        bool        // works in dust: shorter filter interval
	HoursAtStart float64     // hour meter when the node was fitted, h
	COCheckDue   string      // date YYYY-MM-DD the node's CO sensor must be verified by; empty unknown
}
