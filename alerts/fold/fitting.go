package fold

import (
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// fitNode is the task of fitting a sensor unit to a heater; the entry's Node
// says which.
const fitNode = "fit-node"

// fitted is the node a person fitted to a heater. It counts as long as the
// configuration still names the node that it replaced.
type fitted struct {
	Node    reading.NodeID // empty: taken away
	Instead reading.NodeID // as configured
	Cell    trust.COSensor // its CO sensor, where that reads nothing since it plunged to zero elsewhere
}

// fit moves a node to h, and takes it from the heater it was on. Hours stay
// with the heater; the counter that is read from now on is another one.
func (e *Engine) fit(h *heater, node reading.NodeID) {
	if h.node == node {
		return
	}
	var cell trust.COSensor
	if other := e.byNode[node]; other != nil {
		cell = other.Live.Cell.Carried()
		e.refit(other, "")
	}
	e.refit(h, node)
	h.Fitted.Cell = cell
}

func (e *Engine) refit(h *heater, node reading.NodeID) {
	if e.believe(h) {
		h.renew(e.now)
	}
	e.swept = false
	h.Before = h.Before.add(h.node, &h.figures, e.now, e.rules.keptMost())
	h.Fitted = &fitted{Node: node, Instead: h.Node}
	h.still = 0
	e.seat()
	e.recallStays()
	h.listenAnew(e.clockOf(node), e.now)
}

// listenAnew forgets how the unit before told, and gives the next one its
// time. What is known of that one's clock came with it.
func (h *heater) listenAnew(c trust.Clock, now reading.Instant) {
	h.Clock, h.Packs, h.Lost, h.Heard, h.Offline, h.Within = c, trust.Cadence{}, 0, now, false, 0
}

// lastWord tells when the unit was last heard, or since when it is waited for:
// silence also counts from when it was fitted, and from when the heater came
// back into the configuration, and neither was a word of the unit.
func (h *heater) lastWord() (heard, fitted reading.Instant) {
	if h.Packs.Last == 0 {
		return 0, h.Heard
	}
	return h.Packs.Last, 0
}

// refit goes on with the words of another unit, which may measure less than
// the one that left: what that one told is no word of this one. The tank holds
// what was in it.
func (w *Witness) refit(h *heater, m mark) {
	if w.Known.Carries(reading.Fuel) && w.Known.FuelAt >= w.Fill.At {
		m.Entry.Done = w.Known.FuelAt
		f := Fill{Known: true, Sent: true, At: w.Known.FuelAt, Hours: h.runAt(w, m), Full: float64(w.Known.Fuel)}
		h.keepFill(w, filling{Fill: f})
		w.Fill = f
	}
	w.miss(h, m.At)
	w.Burner.Refit()
	w.Known, w.Dims = Known{}, dims{}
	w.Cell = trust.COSensor{}
	if f := h.Fitted; f != nil && f.Node == reading.NodeID(m.Entry.Node) {
		w.Cell = f.Cell
		w.Cell.Here = 0
	}
}

// miss notes for how long the heater had no unit when one is fitted.
func (w *Witness) miss(h *heater, at reading.Instant) {
	if h.Before.left(at) == at {
		return
	}
	b, ended := w.Burner.Absent(at, w.Every.Expected(h.promised(w.At)), &h.rules.Burner)
	if !ended {
		return
	}
	w.close(h, &b)
	if w == &h.Settled {
		last := w.Last
		h.addOpen(&last)
	}
}

// seat gives every heater its node: the configured one, or the one fitted
// since.
func (e *Engine) seat() {
	clear(e.byNode)
	for _, h := range e.heaters {
		h.node = h.Node
		if f := h.Fitted; f != nil && f.Instead == h.Node {
			h.node = f.Node
		}
		if h.node != "" {
			e.byNode[h.node] = h
		}
	}
}
