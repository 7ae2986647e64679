package jobsite

import (
	"fmt"
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// Kind is what an event does.
type Kind string

// The kinds. Target says which of Site, Space and Heater an event may name.
const (
	SupplyCut  Kind = "supply-cut"  // site or heater: no mains or generator for For
	Gust       Kind = "gust"        // site: every flame blown out within seconds; relight after For, or at a visit where For is long
	FlameOut   Kind = "flame-out"   // heater: goes out for no reason; relights after a short For, locks out for a long one
	NotHolding Kind = "not-holding" // heater: goes out, and every further flame lasts at most Value seconds, for For
	RunDry     Kind = "run-dry"     // heater: nobody refuels in time, once
	SwitchOff  Kind = "switch-off"  // heater: a person switches it off for For and writes it down Lead later
	Foul       Kind = "foul"        // heater or space: CO source multiplied by Value, for For
	Seal       Kind = "seal"        // space: air changes per hour become Value, for For
	Silence    Kind = "silence"     // heater's node, or a site's: dead for For, nothing kept
	Outage     Kind = "outage"      // heater's node, or a site's: no network for For, keeps its samples and publishes them on return
	Reboot     Kind = "reboot"      // heater's node: counter back to 0
	Swap       Kind = "swap"        // heater's node: another unit under the same id, its counter at Value seconds
	ClockStep  Kind = "clock-step"  // heater's node: clock moved by Value seconds, for For (0: for good)
)

// relightMax is the longest time after which a flame failure still ends in
// the heater lighting by itself; beyond it the safety control has locked out
// and someone must come. Common practice, no source.
const relightMax = 10 * time.Minute

// Event is one thing that goes wrong, or that somebody does.
type Event struct {
	At       time.Duration // after the start
	Kind     Kind
	Site     string
	Space    string
	Heater   string
	For      time.Duration
	Value    float64       // what of, and in which unit, its kind says
	WaitLit  int           // do not begin before this many of its heaters have been lit a while
	Lead     time.Duration // SwitchOff: when the stop is written down, relative to the act
	Unlogged bool          // SwitchOff: nobody writes it down
}

// targets gives the heaters an event concerns: the one named, else those of
// the space named, else those of the site named.
func (w *World) targets(e Event) []*heater {
	var hs []*heater
	for i := range w.heaters {
		h := &w.heaters[i]
		hit := e.Heater == h.spec.ID
		if e.Heater == "" {
			hit = h.site.spec.ID == e.Site && (e.Space == "" || e.Space == h.space.spec.ID)
		}
		if hit {
			hs = append(hs, h)
		}
	}
	return hs
}

func litOf(hs []*heater) int {
	n := 0
	for _, h := range hs {
		if h.phase == lit {
			n++
		}
	}
	return n
}

// steadyIn counts the heaters that have been lit for a number of seconds.
func (w *World) steadyIn(hs []*heater, s int64) int {
	n := 0
	for _, h := range hs {
		if h.phase == lit && w.tick >= h.burnStart+s {
			n++
		}
	}
	return n
}

// How long a flame must have been steady to be waited for: drawn for each
// event, or all that wait would strike at the same age of a burn.
const (
	steadyMinS = 60
	steadyMaxS = 300
)

// pending is an event that has not begun.
type pending struct {
	at      int64 // tick
	steadyS int64
	event   Event
	targets []*heater
}

func (w *World) newPending(e Event) (pending, error) {
	p := pending{at: seconds(e.At), steadyS: w.between(steadyMinS, steadyMaxS), event: e, targets: w.targets(e)}
	if len(p.targets) == 0 {
		return p, fmt.Errorf("cannot place event %s at %v: no heater at site %q space %q heater %q", e.Kind, e.At, e.Site, e.Space, e.Heater)
	}
	return p, nil
}

// begin starts every event that is due and has enough flames to act on.
func (w *World) begin() {
	for w.nextEvent < len(w.events) && w.events[w.nextEvent].at <= w.tick {
		w.waiting = append(w.waiting, w.events[w.nextEvent])
		w.nextEvent++
	}
	kept := w.waiting[:0]
	for _, p := range w.waiting {
		if p.event.WaitLit > 0 && w.steadyIn(p.targets, p.steadyS) < p.event.WaitLit {
			kept = append(kept, p)
			continue
		}
		w.strike(p)
	}
	w.waiting = kept
}

func (w *World) strike(p pending) {
	e, hs := p.event, p.targets
	switch e.Kind {
	case SupplyCut:
		w.cutSupply(hs, e.For)
	case Gust:
		w.gust(hs, e.For)
	case FlameOut:
		w.flameOut(hs, e.For)
	case NotHolding:
		each(hs, func(h *heater) { h.goOut(w.tick, CauseNotHolding, EndUnexplained) })
		w.during(hs, e.For, func(h *heater) { h.holdS = e.Value }, func(h *heater) { h.holdS = 0 })
	case RunDry:
		each(hs, func(h *heater) { h.skipRefuel = true })
	case SwitchOff:
		w.switchOff(hs, e)
	case Foul:
		w.during(hs, e.For, func(h *heater) { h.foul = e.Value }, func(h *heater) { h.foul = 1 })
	case Seal:
		w.seal(hs, e)
	default:
		w.startNode(hs, e)
	}
}

func (w *World) startNode(hs []*heater, e Event) {
	switch e.Kind {
	case Silence:
		w.during(hs, e.For, w.nodeDead, w.nodeAlive)
	case Outage:
		w.during(hs, e.For, w.nodeCut, w.nodeBack)
	case Reboot:
		each(hs, func(h *heater) { h.node.counter = 0 })
	case Swap:
		each(hs, func(h *heater) { h.node.counter = e.Value })
	case ClockStep:
		w.stepClock(hs, e)
	}
}

func each(hs []*heater, f func(*heater)) {
	for _, h := range hs {
		f(h)
	}
}

// during does begin to each heater now and end after d, and keeps the spaces'
// balances in step.
func (w *World) during(hs []*heater, d time.Duration, begin, end func(*heater)) {
	each(hs, begin)
	each(hs, func(h *heater) { h.space.recount() })
	w.after(d, func() {
		each(hs, end)
		each(hs, func(h *heater) { h.space.recount() })
	})
}

// cutSupply takes the mains away. Where no node of them can report it, it looks
// like any other event that puts out the whole site at once.
func (w *World) cutSupply(hs []*heater, d time.Duration) {
	ending := EndSupplyLost
	if !slices.ContainsFunc(hs, func(h *heater) bool { return h.node.spec.Sensors&reading.Supply != 0 }) {
		ending = togetherOr(hs)
	}
	for _, h := range hs {
		h.goOut(w.tick+w.between(1, 3), CauseSupply, ending)
	}
	w.during(hs, d, func(h *heater) { h.cuts++ }, func(h *heater) { h.cuts-- })
}

// gust blows out every flame of the targets within a few seconds.
func (w *World) gust(hs []*heater, d time.Duration) {
	ending := togetherOr(hs)
	for _, h := range hs {
		if h.phase == lit {
			h.goOut(w.tick+w.between(0, 4), CauseGust, ending)
			w.recover(h, d+time.Duration(w.between(5, 20))*time.Second)
		}
	}
}

// togetherOr is the ending that an unseen common cause can be given: with one
// flame lit nothing tells it from a failure of that heater alone.
func togetherOr(hs []*heater) string {
	if litOf(hs) >= 2 {
		return EndSiteWide
	}
	return EndUnexplained
}

func (w *World) flameOut(hs []*heater, d time.Duration) {
	for _, h := range hs {
		if h.phase == lit {
			h.goOut(w.tick, CauseFlameOut, EndUnexplained)
			w.recover(h, d)
		}
	}
}

// recover lets a heater that is about to go out light again after d: by
// itself when d is short, else by a visit to a heater that has locked out.
func (w *World) recover(h *heater, d time.Duration) {
	if d <= relightMax {
		h.notBefore = w.tick + seconds(d)
		return
	}
	h.lockOnOut = true
	w.after(d, h.visit)
}

// switchOff is a person's act. The note may be written before or after it.
func (w *World) switchOff(hs []*heater, e Event) {
	logged := !e.Unlogged && !w.forgets()
	lead := e.Lead
	act := func() {
		each(hs, func(h *heater) { h.stopLogged = logged })
		w.during(hs, e.For, func(h *heater) { h.offs++ }, func(h *heater) { h.offs-- })
	}
	note := func() {
		each(hs, func(h *heater) { w.writeStop(h, e.For) })
	}
	first := time.Duration(0)
	if lead < 0 {
		first = -lead
	}
	w.after(first, act)
	if logged {
		w.after(first+lead, note)
	}
}

func (w *World) seal(hs []*heater, e Event) {
	w.during(hs[:1], e.For,
		func(h *heater) { h.space.airPerH = e.Value },
		func(h *heater) { h.space.airPerH = h.space.spec.AirPerH })
}

func (w *World) stepClock(hs []*heater, e Event) {
	move := func(by float64) func(*heater) {
		return func(h *heater) { h.node.clockS += by }
	}
	each(hs, move(e.Value))
	if e.For > 0 {
		w.after(e.For, func() { each(hs, move(-e.Value)) })
	}
}
