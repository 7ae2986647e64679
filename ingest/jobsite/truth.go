package jobsite

import "heaterd/ingest/reading"

// Endings, in the words of the outcomes.
const (
	EndSatisfied   = "satisfied"
	EndPlanned     = "planned"
	EndSupplyLost  = "supply-lost"
	EndFuelOut     = "fuel-out"
	EndSiteWide    = "site-wide"
	EndUnexplained = "unexplained"
	EndUnknown     = "unknown"
)

// Causes: what physically put a flame out.
const (
	CauseThermostat  = "thermostat"
	CauseSwitchedOff = "switched off"
	CauseSchedule    = "off hours"
	CauseSupply      = "supply"
	CauseFuel        = "fuel"
	CauseGust        = "gust"
	CauseFlameOut    = "flame failure"
	CauseNotHolding  = "flame not holding"
)

// Truth is what really happened up to the present of the model.
type Truth struct {
	Start   reading.Instant `json:"start"`
	End     reading.Instant `json:"end"`
	Heaters []HeaterTruth   `json:"heaters"`
	Spaces  []SpaceTruth    `json:"spaces"`
}

// HeaterTruth is one heater's part.
type HeaterTruth struct {
	ID        string           `json:"id"`
	Node      string           `json:"node"`
	Site      string           `json:"site"`
	Space     string           `json:"space"`
	Burns     []Burn           `json:"burns"` // ended ones, in time order
	LitSince  *reading.Instant `json:"lit_since,omitempty"`
	BurntS    int64            `json:"burnt_s"`   // s lit since the start, the burn under way included
	Ignitions int              `json:"ignitions"` // flames established
	Attempts  int              `json:"attempts"`  // ignitions and those that showed no flame
	FuelL     float64          `json:"fuel_l"`    // L left
}

// Burn is one unbroken lit period. Ending is the word the evidence allows:
// a supply cut that no sensor reports is site-wide with two or more flames
// and unexplained with one; a stop nobody wrote down is unexplained; and it
// is unknown where the node took no sample between the end and long after,
// or keeps it still. Cause says what it really was.
type Burn struct {
	Start   reading.Instant `json:"start"`
	End     reading.Instant `json:"end"`
	Ending  string          `json:"ending"`
	Cause   string          `json:"cause"`
	Samples int             `json:"samples"` // samples that saw it lit; 0: only the counter can show it
	After   int             `json:"after"`   // samples between it and the next burn; 0: only the counter can show the gap
}

// SpaceTruth is one space's part. Before the record is as long as a window
// the missing time counts as 0 ppm.
type SpaceTruth struct {
	Site     string  `json:"site"`
	ID       string  `json:"id"`
	PeakPPM  float64 `json:"peak_ppm"`
	TWA15PPM float64 `json:"twa_15min_ppm"`
	TWA8hPPM float64 `json:"twa_8h_ppm"`
	COPPM    float64 `json:"co_ppm"` // now
	TempC    float64 `json:"temp_c"` // now
}

// Truth gives what happened so far.
func (w *World) Truth() Truth {
	t := Truth{Start: w.spec.Start, End: w.now()}
	for i := range w.heaters {
		t.Heaters = append(t.Heaters, w.heaterTruth(&w.heaters[i]))
	}
	for i := range w.spaces {
		t.Spaces = append(t.Spaces, w.spaces[i].truth())
	}
	return t
}

func (w *World) heaterTruth(h *heater) HeaterTruth {
	t := HeaterTruth{
		ID: h.spec.ID, Node: h.node.spec.ID, Site: h.site.spec.ID, Space: h.space.spec.ID,
		BurntS: h.burntS, Ignitions: h.ignitions, Attempts: h.attempted, FuelL: max(h.fuelL, 0),
	}
	gaps := h.node.gaps
	if h.node.open {
		gaps = append(gaps[:len(gaps):len(gaps)], gap{h.node.last, w.tick})
	}
	for _, b := range h.burns {
		if w.inGap(gaps, b.End) || w.stillHeld(h.node, b.End) {
			b.Ending = EndUnknown
		}
		t.Burns = append(t.Burns, b)
	}
	if h.phase == lit {
		since := w.at(h.burnStart)
		t.LitSince = &since
	}
	return t
}

func (w *World) inGap(gaps []gap, end reading.Instant) bool {
	for _, g := range gaps {
		if end > w.at(g.from) && end <= w.at(g.to) {
			return true
		}
	}
	return false
}

// stillHeld reports whether an outage under way keeps what came after end.
func (w *World) stillHeld(n *node, end reading.Instant) bool {
	if n.cut == 0 {
		return false
	}
	sent := n.last - int64(len(n.held))*n.every
	return end > w.at(sent)
}

func (s *space) truth() SpaceTruth {
	return SpaceTruth{
		Site: s.site.spec.ID, ID: s.spec.ID, PeakPPM: s.dose.peak,
		TWA15PPM: s.dose.shortMax / shortS, TWA8hPPM: s.dose.shiftMax / shiftS,
		COPPM: s.coPPM, TempC: s.tempC,
	}
}

// Endings counts the burns of every heater by ending.
func (t Truth) Endings() map[string]int {
	n := map[string]int{}
	for _, h := range t.Heaters {
		for _, b := range h.Burns {
			n[b.Ending]++
		}
	}
	return n
}
