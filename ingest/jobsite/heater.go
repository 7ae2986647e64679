package jobsite

import (
	"cmp"
	"math/rand/v2"
	"time"
)

// phase is what a heater is doing.
type phase uint8

const (
	idle     phase = iota // no flame, free to light
	igniting              // fan and spark, flame expected at until
	lit
	locked // safety control has stopped it: waits for a visit or for fuel
)

// How a burner starts and fails; common practice, no source.
const (
	igniteMinS   = 8      // s of fan and spark before the flame shows
	igniteMaxS   = 20     // s
	retryS       = 30     // s between attempts
	failIgnite   = 0.01   // probability that an attempt shows no flame
	attempts     = 3      // attempts before lockout
	holdMinS     = 4      // s, shortest flame of a burner that cannot hold it
	refuelAt     = 0.2    // ratio at which someone is sent to refuel
	schedJitterS = 4 * 60 // s, latest a person follows the off hours
)

// heater is the state of one heater; times are ticks, seconds since the start.
type heater struct {
	spec  HeaterSpec
	site  *site
	space *space
	node  *node
	rng   *rand.Rand

	phase     phase
	until     int64 // igniting: when the flame shows
	notBefore int64 // idle: no attempt before this
	tries     int
	call      bool // thermostat asks for heat
	onC, offC float64

	outAt     int64 // lit: goes out then; 0: nothing pending
	outCause  string
	outEnding string
	lockOnOut bool // lock when it goes out
	holdS     float64
	foul      float64 // factor on the CO source

	cuts, offs    int  // supply cuts and switchings-off in force
	stopLogged    bool // the switching-off in force is or will be written down
	schedJitter   int64
	burnPerS      float64 // L
	fuelL         float64
	dry           bool // locked for want of fuel
	skipRefuel    bool
	refuelPlanned bool

	burnStart int64
	burnSeen  int
	burns     []Burn
	burntS    int64
}

func newHeater(s HeaterSpec, on *site, in *space, rng *rand.Rand) heater {
	h := heater{spec: s, site: on, space: in, rng: rng, foul: 1, call: true}
	h.burnPerS = s.BurnLPerH * cmp.Or(s.BurnFactor, 1) / secondsInHour
	h.fuelL = s.TankL * cmp.Or(s.StartFuel, 1)
	h.schedJitter = rng.Int64N(schedJitterS)
	if t := s.Thermostat; t != nil {
		h.onC, h.offC = t.limits()
		h.sense()
	}
	return h
}

// sense lets the thermostat look at the air.
func (h *heater) sense() {
	t := h.spec.Thermostat
	if t == nil {
		return
	}
	switch felt := h.space.tempC + t.OffsetC; {
	case felt >= h.offC:
		h.call = false
	case felt <= h.onC:
		h.call = true
	}
}

// scheduledOff follows the site's off hours, each heater with its own delay.
func (h *heater) scheduledOff(tick int64) bool {
	if tick < h.site.changed+h.schedJitter && h.site.changed > 0 {
		return !h.site.off
	}
	return h.site.off
}

func (h *heater) fuelRatio() float64 {
	if h.spec.TankL == 0 {
		return 1
	}
	return h.fuelL / h.spec.TankL
}

// goOut puts the flame out at a tick; the earliest cause wins.
func (h *heater) goOut(at int64, cause, ending string) {
	if h.phase != lit || h.outAt != 0 && h.outAt <= at {
		return
	}
	h.outAt, h.outCause, h.outEnding = at, cause, ending
}

// visit is a person setting a locked-out heater going again.
func (h *heater) visit() {
	if h.phase == locked && h.fuelL > 0 {
		h.phase, h.tries = idle, 0
	}
}

// advance brings a heater's state to the present tick.
func (w *World) advance(h *heater) {
	h.sense()
	off := h.offs > 0 || h.scheduledOff(w.tick)
	want := h.call && !off && h.cuts == 0
	switch h.phase {
	case idle:
		if want && w.tick >= h.notBefore {
			h.phase = igniting
			h.until = w.tick + igniteMinS + h.rng.Int64N(igniteMaxS-igniteMinS+1)
		}
	case igniting:
		w.ignite(h, want)
	case lit:
		w.tend(h, off)
	}
}

func (w *World) ignite(h *heater, want bool) {
	switch {
	case !want:
		h.phase, h.tries = idle, 0
	case w.tick < h.until:
	case h.fuelL <= 0 || h.rng.Float64() < failIgnite:
		w.miss(h)
	default:
		w.light(h)
	}
}

func (w *World) miss(h *heater) {
	h.phase, h.notBefore = idle, w.tick+retryS
	if h.tries++; h.tries < attempts {
		return
	}
	h.phase = locked
	if h.fuelL > 0 {
		w.after(w.span(visitMin, visitMax), h.visit)
	}
}

func (w *World) light(h *heater) {
	h.phase, h.tries = lit, 0
	h.outAt, h.burnStart, h.burnSeen = 0, w.tick, 0
	if h.holdS > 0 {
		s := holdMinS + h.rng.Float64()*max(h.holdS-holdMinS, 0)
		h.goOut(w.tick+int64(s), CauseNotHolding, EndUnexplained)
	}
	h.space.recount()
}

// tend looks at a lit heater for every reason to stop, the abrupt ones first.
func (w *World) tend(h *heater, off bool) {
	switch {
	case h.outAt != 0 && w.tick >= h.outAt:
		w.extinguish(h, h.outCause, h.outEnding)
	case h.fuelL <= 0:
		w.runOut(h)
	case h.cuts > 0:
	case off:
		w.stopByHand(h)
	case !h.call:
		w.extinguish(h, CauseThermostat, EndSatisfied)
	}
	if h.phase == lit && !h.refuelPlanned && !h.skipRefuel && h.fuelRatio() < refuelAt {
		h.refuelPlanned = true
		w.after(w.span(refuelMin, refuelMax), func() { w.refuelVisit(h, 0) })
	}
}

func (w *World) stopByHand(h *heater) {
	switch {
	case h.offs == 0:
		w.extinguish(h, CauseSchedule, EndPlanned)
	case h.stopLogged:
		w.extinguish(h, CauseSwitchedOff, EndPlanned)
	default:
		w.extinguish(h, CauseSwitchedOff, EndUnexplained)
	}
}

func (w *World) extinguish(h *heater, cause, ending string) {
	h.burns = append(h.burns, Burn{
		Start: w.at(h.burnStart), End: w.at(w.tick), Ending: ending, Cause: cause, Samples: h.burnSeen,
	})
	h.phase, h.outAt = idle, 0
	if h.lockOnOut {
		h.phase, h.lockOnOut = locked, false
	}
	h.notBefore = max(h.notBefore, w.tick+retryS)
	h.space.recount()
}

func (w *World) runOut(h *heater) {
	h.fuelL = 0
	w.extinguish(h, CauseFuel, EndFuelOut)
	h.phase, h.dry, h.skipRefuel = locked, true, false
	if !h.refuelPlanned {
		h.refuelPlanned = true
		w.after(w.span(foundMin, foundMax), func() { w.refuelVisit(h, 0) })
	}
}

// seen counts a sample towards the burn or the gap it was taken in.
func (h *heater) seen() {
	switch {
	case h.phase == lit:
		h.burnSeen++
	case len(h.burns) > 0:
		h.burns[len(h.burns)-1].After++
	}
}

// burn counts one lit second.
func (h *heater) burn() {
	h.burntS++
	h.node.counter++
	h.fuelL -= h.burnPerS
}

func seconds(d time.Duration) int64 { return int64(d / time.Second) }
