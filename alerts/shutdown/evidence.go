package shutdown

import (
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
	"heaterd/alerts/outcome"
)

// Evidence is what is known about the end of one burn. Zero values mean not
// known.
type Evidence struct {
	Burn       burner.Burn
	Thermostat *fleet.Thermostat // nil: none
	Usual      Usual             // where this heater usually switches off
	UsualOn    Usual             // the coldest it usually gets before it lights again
	Pace       Pace              // of its space, and of the burns before

	PlannedWindow bool          // the site's hours off cover the end, or begin within the slack
	PlannedStop   bool          // a person's word covers the end, within the slack
	PlannedLead   time.Duration // from the end until that planned time began; below 0: it had begun
	HeldAfter     time.Duration // after the end, until planned time off or a loss of the mains kept it from lighting; 0: nothing did

	FillKnown    bool    // else SinceFillH counts from the begin of the record, and how full the tank was is not known
	SinceFillH   float64 // burner hours since the last known fill
	TankH        float64 // burner hours that fill lasts at the plate's rate; 0 unknown
	Refilled     bool    // the tank was filled between the end and the next light
	LastDrops    bool    // its own control lit it again at once, and it burned no more than line and pump hold before it stayed out …
	DropsFilled  bool    // … until the tank was filled
	NextFillH    float64 // burner hours since that fill when the next one was written down, the tank not filled between the end and the next light; 0: none yet
	LongestFillH float64 // most burner hours between two fills before; 0: there were not two
	GaugeStuck   bool    // the fuel gauge stood still while it burned: it tells nothing
	Failing      bool    // its flame had hardly held, nor had the one before

	Others    []Other  // endings of the site's other heaters near this one
	LitAtSite int      // heaters of the site lit just before, this one included
	DarkWith  []string // those whose units fell silent with its own as it went out, none heard meanwhile that had the mains, and no burner running on by its counter
	MainsWith []string // those of the site's other heaters whose units lost the mains as it went out

	Known        time.Duration // how far the time after the end is known
	Relit        bool          // it lit again within Known …
	RelitAfter   time.Duration // … after so long
	Lowest       float32       // °C, coldest between the end and the next light
	HasLowest    bool
	Relight      float32       // °C, at the first reading lit again; Lowest where that told none
	ChilledAfter time.Duration // after the end, until it was colder than it had ever lit again at, by far; 0: it was not
	Vain         time.Duration // the longest that the thermostat, which had stopped asking, asked again without a flame …
	VainAfter    time.Duration // … and how long after the end that began
	LowestAge    time.Duration // from the last reading while it was out until it lit again

	Fuel        string // kerosene, diesel or empty
	OutsideC    float64
	HasOutsideC bool
	Dusty       bool
	Fixes       map[string]int // what earlier visits found, counted by Check
}

// Verdict is why a burn ended.
type Verdict struct {
	Ending   outcome.Ending
	Evidence []string // short texts, the weightiest first
	Checks   []string // first checks, best first; only where somebody should look
	Sure     float64  // 0 to 1, how clearly the evidence speaks; an order, not a probability
}
