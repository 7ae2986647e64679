package outcome

import "heaterd/ingest/reading"

// Ending says why a burn ended.
type Ending string

// The endings of the contract.
const (
	Satisfied   Ending = "satisfied"
	Planned     Ending = "planned"
	SupplyLost  Ending = "supply-lost"
	FuelOut     Ending = "fuel-out"
	SiteWide    Ending = "site-wide"
	Unexplained Ending = "unexplained"
	Unknown     Ending = "unknown" // the node was silent: nobody can tell
)

// Endings lists every ending in a fixed order.
func Endings() []Ending {
	return []Ending{Satisfied, Planned, SupplyLost, FuelOut, SiteWide, Unexplained, Unknown}
}

// Burn is one unbroken lit period of a heater, with why it ended.
type Burn struct {
	Type     string          `json:"type"` // "burn"
	At       reading.Instant `json:"at"`   // the end
	Heater   string          `json:"heater"`
	Start    reading.Instant `json:"start"`
	End      reading.Instant `json:"end"`
	Seconds  float64         `json:"seconds"`
	Ending   Ending          `json:"ending"`
	Evidence []string        `json:"evidence"`
	Checks   []string        `json:"checks"`
	// StartUnseen: it burned when its unit was first heard. It had begun at an
	// unknown time before Start, and lasted longer than Seconds.
	StartUnseen bool `json:"start_unseen,omitempty"`
}

// Alarm is one change of state of one alarm.
type Alarm struct {
	Type     string          `json:"type"` // "alarm"
	At       reading.Instant `json:"at"`
	ID       string          `json:"id"`
	Kind     string          `json:"kind"`
	Priority string          `json:"priority"`
	State    string          `json:"state"`
	Site     string          `json:"site,omitempty"`
	Space    string          `json:"space,omitempty"`
	Heater   string          `json:"heater,omitempty"`
	Value    *float64        `json:"value,omitempty"`
	Limit    *float64        `json:"limit,omitempty"`
	Unit     string          `json:"unit,omitempty"`
	Text     string          `json:"text"`
	Late     bool            `json:"late"`
}

// Hours is what a heater has run, with bounds that hold whatever happened
// while nobody saw.
type Hours struct {
	Type      string          `json:"type"` // "hours"
	At        reading.Instant `json:"at"`
	Heater    string          `json:"heater"`
	Hours     float64         `json:"hours"`
	Low       float64         `json:"low"`
	High      float64         `json:"high"`
	Source    string          `json:"source"` // counter, flame or both
	Burns     int             `json:"burns"`
	Ignitions int             `json:"ignitions"`
}

// Service is where one task of one heater stands.
type Service struct {
	Type       string          `json:"type"` // "service"
	At         reading.Instant `json:"at"`
	Heater     string          `json:"heater"`
	Task       string          `json:"task"`
	State      string          `json:"state"` // ok, due-soon, due, overdue
	HoursSince float64         `json:"hours_since"`
	HoursLeft  *float64        `json:"hours_left"`
	DueOn      *string         `json:"due_on"`    // YYYY-MM-DD in the site's zone
	DueEarly   *string         `json:"due_early"` // 10 % date
	DueLate    *string         `json:"due_late"`  // 90 % date
}

// Exposure is the CO record of one space.
type Exposure struct {
	Type         string          `json:"type"` // "exposure"
	At           reading.Instant `json:"at"`
	Site         string          `json:"site"`
	Space        string          `json:"space"`
	PeakPPM      float64         `json:"peak_ppm"`
	TWA15PPM     float64         `json:"twa_15min_ppm"`
	TWA8hPPM     float64         `json:"twa_8h_ppm"`
	COHbPercent  float64         `json:"cohb_percent"`
	Coverage     float64         `json:"coverage"` // share of the time that was measured, 0 to 1
	AirChangesPH *float64        `json:"air_changes_per_h"`
}

// Trend is how a heater's unexplained endings lie over its burner hours.
type Trend struct {
	Type     string          `json:"type"` // "trend"
	At       reading.Instant `json:"at"`
	Heater   string          `json:"heater"`
	Endings  int             `json:"endings"`
	Hours    float64         `json:"hours"`
	LaplaceZ float64         `json:"laplace_z"`
	Shape    float64         `json:"shape"`
	MTBFH    float64         `json:"mtbf_h"`
	MTBFLowH float64         `json:"mtbf_low_h"`
	MTBFHiH  float64         `json:"mtbf_high_h"`
	Verdict  string          `json:"verdict"`
}
