package fold

import (
	"time"

	"heaterd/ingest/reading"
)

// refuelled folds a filling of the tank that a person wrote down.
func (w *Witness) refuelled(h *heater, m mark) {
	x := w.filling(h, m)
	h.keepFill(w, x)
	was := w.Fill
	f := x.onto(was)
	switch {
	case x.tops(was):
		w.Fill = f
	case !x.Late:
		w.fill(h, f)
	default:
		w.filledBefore(h, f)
	}
}

// filledBefore folds a filling that was written down late: the endings since
// may have waited for it.
func (w *Witness) filledBefore(h *heater, f Fill) {
	w.Fill = f
	if !h.settled(&w.Last) {
		w.Last.correct(h, f)
	}
	if w != &h.Settled {
		return
	}
	for _, e := range h.Open {
		if !h.settled(e) {
			e.correct(h, f)
		}
	}
}

// fill takes down a filling of the tank.
func (w *Witness) fill(h *heater, f Fill) {
	w.Last.Refilled = w.Last.Refilled || w.Last.Number > 0 && w.Last.filledAfter(h, f.At)
	w.Fill = f
}

// filledAfter reports whether a filling was what a heater that had gone out
// was waiting for. People write times down roughly, and nobody fills the tank
// of a heater that burns: a filling shortly before the end was after it.
func (e *ended) filledAfter(h *heater, at reading.Instant) bool {
	after := at > e.Burn.Start && at >= e.Burn.End.Add(-h.rules.NotedWithin)
	before := e.Relit == 0 || at.Sub(e.Relit) <= h.rules.NotedWithin
	return after && before && at.Sub(e.Burn.End) <= h.rules.AftermathFor
}

// filledWhileOut reports whether a filling that was written down as the heater
// burned was before it lit: nobody fills the tank of a heater that burns, and
// this one had run dry by the hours.
func (h *heater) filledWhileOut(w *Witness, noted reading.Instant) bool {
	l := &w.Last
	return w.Burner.Burning && l.Relit != 0 && noted.Sub(l.Relit) <= h.rules.NotedLit && h.mayBeDry(l)
}

// notedWithin is how long after the heater lit again a filling may be written
// down that was before it.
func (h *heater) notedWithin(e *ended) time.Duration {
	if e.Later == 0 && h.mayBeDry(e) {
		return h.rules.NotedLit
	}
	return h.rules.NotedWithin
}

// correct takes note of a filling that was written down after the burn was.
func (e *ended) correct(h *heater, f Fill) {
	switch {
	case e.Number == 0:
	case e.filledAfter(h, f.At):
		e.Refilled = true
	case f.At < e.Burn.End:
		e.FillKnown, e.SinceFillH, e.Full = true, max(0, e.Hours-f.Hours), f.Full
	}
}

// filledTo gives how full the tank is after a refuel; to the brim unless the
// entry says how many litres went into a tank whose level was known.
func (h *heater) filledTo(w *Witness, m mark) float64 {
	if m.Entry.Litres == nil || h.TankL == 0 {
		return 1
	}
	if late := m.when() < m.At; late && w.Known.Carries(reading.Fuel) { // what it sent last holds the litres already
		return min(1, float64(w.Known.Fuel)+h.since(w, m).est*h.BurnLPerH/h.TankL)
	}
	return min(1, h.levelBy(w, h.runAt(w, m))+*m.Entry.Litres/h.TankL)
}

// levelBy estimates the tank's level when the burner had run for so many hours:
// by what its unit sends, else by the last fill, the run since and the plate's
// burn rate; 0 when there is nothing to go by.
func (h *heater) levelBy(w *Witness, run float64) float64 {
	switch {
	case w.Known.Carries(reading.Fuel) && !h.gaugeStuck(w, run):
		return float64(w.Known.Fuel)
	case w.Known.Carries(reading.Fuel) && !w.filledSince():
		stuck := Fill{Known: true, Hours: w.Known.FuelSince, Full: float64(w.Known.Fuel)}
		return stuck.left(run, h.BurnLPerH, h.TankL)
	}
	return w.Fill.left(run, h.BurnLPerH, h.TankL)
}

// filledSince reports whether somebody filled the tank since the gauge moved.
func (w *Witness) filledSince() bool { return w.Fill.Known && w.Fill.Hours >= w.Known.FuelSince }

// stuckAfter is the share of the tank that must have been burned, by the plate,
// while the gauge did not move at all: more than one that tells quarters needs.
// Common practice, no source.
const stuckAfter = 0.4

// gaugeStuck reports whether the gauge stands still while the heater burns. Once
// it ran on for longer than the tank lasts, somebody filled it, and nothing but
// the gauge tells how far.
func (h *heater) gaugeStuck(w *Witness, run float64) bool {
	burned := (run - w.Known.FuelSince) * h.BurnLPerH
	lasts := (float64(w.Known.Fuel) + h.rules.RefillRise) * h.TankL
	return burned > stuckAfter*h.TankL && (burned <= lasts || w.filledSince()) && h.TankL > 0
}
