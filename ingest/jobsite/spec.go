package jobsite

import (
	"time"

	"heaterd/ingest/reading"
)

// Spec describes a world; the zero values of its parts are usable defaults
// where a comment says so.
type Spec struct {
	Seed   uint64
	Start  reading.Instant // rounded down to the second by NewWorld
	Sites  []SiteSpec
	Events []Event
	Forget float64 // probability that a person does not write down a refuel or a stop, 0 to 1
}

// SiteSpec is one jobsite with its weather.
type SiteSpec struct {
	ID         string
	Name       string
	Zone       string // IANA zone; empty is UTC
	Limits     string // a limits word of the configuration, as us-niosh
	Activity   string // rest, light or heavy
	Procedure  string
	Contact    string  // name of the site's contact; empty: none
	Phone      string  // of the contact
	MeanC      float64 // °C, mean outside temperature
	SwingC     float64 // °C, half the daily range
	WanderC    float64 // °C, standard deviation of the slow random part
	PlannedOff []OffHours
	Spaces     []SpaceSpec
	Heaters    []HeaterSpec
}

// OffHours is a weekly stretch with the heaters switched off, in the site's
// zone. To at or before From ends on the next day.
type OffHours struct {
	Days []time.Weekday
	From time.Duration // wall-clock time of day, whole minutes
	To   time.Duration
}

// SpaceSpec is a room or tent.
type SpaceSpec struct {
	ID            string
	Name          string
	VolumeM3      float64
	TauH          float64  // h, cooling time constant; 2 to 20 for tents to halls (common practice, no source)
	LossKWPerK    float64  // kW lost per °C above outside; the heat capacity is LossKWPerK·TauH
	AirPerH       float64  // air changes per hour, 0.3 (sealed) to 4 (open doors) (common practice, no source)
	BackgroundPPM float64  // CO of the outside air
	StartC        float64  // °C at the start
	StartPPM      float64  // ppm CO at the start
	ProtectAboveC *float64 // °C; nil: nothing to protect
}

// Band says how a thermostat's differential lies about its setpoint.
type Band string

// The conventions met in the trade; makers differ, so all three exist.
const (
	OffAbove Band = "off-above" // on at the setpoint, off at setpoint + differential
	OnBelow  Band = "on-below"  // on at setpoint − differential, off at the setpoint
	Straddle Band = "straddle"  // on and off half a differential either side
)

// Thermostat is a heater's room thermostat.
type Thermostat struct {
	SetpointC     float64
	DifferentialC float64
	Band          Band    // empty is Straddle
	OffsetC       float64 // °C its own sensor reads above the space's air
}

// limits gives the temperatures at which it switches on and off.
func (t Thermostat) limits() (on, off float64) {
	switch t.Band {
	case OffAbove:
		return t.SetpointC, t.SetpointC + t.DifferentialC
	case OnBelow:
		return t.SetpointC - t.DifferentialC, t.SetpointC
	default:
		return t.SetpointC - t.DifferentialC/2, t.SetpointC + t.DifferentialC/2
	}
}

// HeaterSpec is one heater and the node on it.
type HeaterSpec struct {
	ID           string
	Space        string
	InputKW      float64
	BurnLPerH    float64 // L/h by the plate
	BurnFactor   float64 // true over plate rate; 0 is 1
	TankL        float64
	Thermostat   *Thermostat // nil: runs until switched off
	Dusty        bool
	HoursAtStart float64 // h
	COGPerH      float64 // g/h of CO while lit and clean
	StartFuel    float64 // ratio; 0 is full, and the filling is written down at the start
	Node         NodeSpec
}

// NodeSpec is a sensor unit.
type NodeSpec struct {
	ID           string
	Interval     time.Duration    // between samples, whole seconds; 0 is 30 s
	Sensors      reading.Quantity // of Supply, Call, Fuel, BatteryLevel, BatteryVolts: those it has beyond the standard four
	RuntimeStart float64          // s on its counter at the start
	ClockOffset  time.Duration    // its clock minus the true one
	DriftPPM     float64          // of its clock, parts per million
	COGain       float64          // slope of its CO sensor; 0 is 1
	COZeroPPM    float64          // zero drift of its CO sensor
	CONoisePPM   float64          // standard deviation
	TempOffsetC  float64
	TempNoiseC   float64 // standard deviation
	BatteryPerD  float64 // ratio of the battery used per day
}
