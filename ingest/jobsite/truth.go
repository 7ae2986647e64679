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
	Heaters []HeaterTruth
	Spaces  []SpaceTruth
}

// HeaterTruth is one heater's part.
type HeaterTruth struct {
	ID       string
	Node     string
	Site     string
	Space    string
	Burns    []Burn // ended ones, in time order
	LitSince *reading.Instant
	BurntS   int64   // s lit since the start, the burn under way included
	FuelL    float64 // L left
}

// Burn is one unbroken lit period. Ending is the word the evidence allows:
// a supply cut that no sensor reports is site-wide with two or more flames
// and unexplained with one; a stop nobody wrote down is unexplained; and it
// is unknown where the node took no sample between the end and long after,
// or keeps it still. Cause says what it really was.
type Burn struct {
	Start   reading.Instant
	End     reading.Instant
	Ending  string
	Cause   string
	Samples int // samples that saw it lit; 0: only the counter can show it
	After   int // samples between it and the next burn; 0: only the counter can show the gap
}

// SpaceTruth is one space's part.
type SpaceTruth struct {
	ID      string
	PeakPPM float64
	COPPM   float64 // now
}

// Truth gives what happened so far.
func (w *World) Truth() Truth {
	var t Truth
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
		BurntS: h.burntS, FuelL: max(h.fuelL, 0),
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
	return SpaceTruth{ID: s.spec.ID, PeakPPM: s.peakPPM, COPPM: s.coPPM}
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
