package jobsite

import (
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// How long people take; common practice, no source.
const (
	visitMin  = 1 * time.Hour // until someone comes to a locked-out heater
	visitMax  = 8 * time.Hour
	refuelMin = 10 * time.Minute // until a person sent to refuel is there
	refuelMax = 60 * time.Minute
	foundMin  = 20 * time.Minute // until a heater that ran dry is found
	foundMax  = 3 * time.Hour
	fillFor   = 15 * time.Minute // a heater without thermostat stands still to be filled
	fillAfter = 5 * time.Minute  // cooling before the cap is opened
	waitMax   = 45 * time.Minute // patience with a heater that will not stop by itself
	noteMax   = 5 * time.Minute  // until a filling is written down
)

// Act is something a person wrote down. One of the pointers is set.
type Act struct {
	At    reading.Instant
	Entry *record.Entry
	Stop  *record.PlannedStop
}

func (w *World) forgets() bool { return w.rng.Float64() < w.spec.Forget }

func (w *World) writeStop(h *heater, d time.Duration) {
	w.acts = append(w.acts, Act{At: w.now(), Stop: &record.PlannedStop{Heater: h.spec.ID, For: d}})
}

func (w *World) writeRefuel(h *heater) {
	w.acts = append(w.acts, Act{At: w.now(), Entry: &record.Entry{Heater: h.spec.ID, Task: "refuel"}})
}

// refuelVisit is a person with a fuel can who has waited so long. Nobody
// fills a burning heater: under a thermostat the person waits for it to stop;
// one that does not is switched off for a quarter of an hour and that is
// written down.
func (w *World) refuelVisit(h *heater, waited time.Duration) {
	switch {
	case h.phase != lit:
		w.fill(h)
	case h.spec.Thermostat != nil && waited < waitMax:
		w.after(time.Minute, func() { w.refuelVisit(h, waited+time.Minute) })
	default:
		w.switchOff([]*heater{h}, Event{For: fillFor})
		w.after(fillAfter, func() { w.fill(h) })
	}
}

func (w *World) fill(h *heater) {
	h.fuelL = h.spec.TankL
	h.refuelPlanned = false
	if !w.forgets() {
		w.after(w.span(0, noteMax), func() { w.writeRefuel(h) })
	}
	if h.dry {
		h.dry = false
		h.visit()
	}
}
