package fold

import (
	"slices"

	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// ripen fixes where a heater usually switches off for each open burn, once
// enough burns after it have ended; so the answer does not depend on when it
// is asked for.
func (h *heater) ripen() {
	for _, e := range h.Open[:len(h.Open)-1] {
		e.Later++
		if !e.Ripe && int(e.Later) >= h.burnsAfter() {
			e.Habits, e.Ripe = h.Settled.habits(), true
		}
	}
}

// burnsAfter is how many burns after one settle where the heater usually
// switches off: one without a named thermostat must cycle more often until it is
// taken to have one, and its first endings wait for that.
func (h *heater) burnsAfter() int {
	if h.Thermostat != nil {
		return h.rules.BurnsAfter
	}
	return max(h.rules.BurnsAfter, h.rules.Shutdown.UnnamedFrom+1)
}

// conclude tells the endings that can no longer change, in order.
func (e *Engine) conclude(h *heater, all bool) {
	for len(h.Open) > 0 {
		b := h.Open[0]
		if !all && !e.isFinal(h, b) {
			return
		}
		if !b.Ripe {
			b.Habits, b.Ripe = h.Settled.habits(), true
		}
		e.tell(h, b)
		h.Open = h.Open[1:]
		h.Told = append(h.Told, b)
	}
}

// isFinal: the burn's aftermath is known, its heater's habit is, and nobody
// on the site can still add to it.
func (e *Engine) isFinal(h *heater, b *ended) bool {
	r := h.rules
	if e.now.Sub(b.Burn.EndHigh) > r.patience()+2*r.Lateness {
		return true
	}
	return h.settled(b) && h.site.passed(h, h.asksUntil(b)) && h.neighboursRipe(b)
}

// settled reports whether the heater itself can add nothing to an ending any
// more. It goes by settled readings, however they came.
func (h *heater) settled(b *ended) bool {
	_, open := h.lastDrop(b)
	return h.followed(b) && !open && h.knowsHabit(b)
}

// followed reports whether what came after an ending tells no more of it.
func (h *heater) followed(b *ended) bool {
	at := h.Settled.At
	return b.Relit != 0 && at.Sub(b.Relit) > h.notedWithin(b) || at.Sub(b.Burn.End) > h.rules.AftermathFor
}

// asksUntil is how far the time after an ending counts at the other heaters:
// also whether any burned on after one that went out meanwhile.
func (h *heater) asksUntil(b *ended) reading.Instant {
	looked := b.looked(h.rules)
	until := looked.Add(h.rules.Shutdown.BackTogether)
	for _, o := range h.site.recent {
		if x := &o.what.Burn; o.heater != h && x.End > b.Burn.End && x.End <= looked {
			until = max(until, x.EndHigh.Add(h.rules.Together))
		}
	}
	for _, o := range h.site.heaters {
		if l := o.lostMains(b.Burn.End, looked, b.Burn.Gap); o != h && l.To != 0 {
			until = max(until, l.To.Add(h.rules.Together))
		}
	}
	return until
}

// knowsHabit reports whether it is settled where the heater usually switches
// off about the time of an ending.
func (h *heater) knowsHabit(b *ended) bool {
	return b.Ripe || h.Settled.At.Sub(b.Burn.End) >= h.rules.HabitFor
}

// neighboursRipe reports whether the endings this one is compared with can be
// judged for good too: of those that may be of one event with it, what came
// after them counts as well.
func (h *heater) neighboursRipe(b *ended) bool {
	from, to := b.Burn.EndLow.Add(-h.rules.Together), b.looked(h.rules)
	for _, o := range h.site.recent {
		if o.what.Burn.EndHigh < from || o.what.Burn.EndLow > to {
			continue
		}
		if !o.heater.knowsHabit(o.what) || o.what.near(b, h.rules.Together) && !o.heater.settled(o.what) {
			return false
		}
	}
	return true
}

func (e *Engine) tell(h *heater, b *ended) {
	v := h.judge(b, b.Habits, h.site.near(b, h.rules.Together))
	h.countFinal(b.Number, v.Ending)
	h.noteFault(b, v)
	e.effects.Burns = append(e.effects.Burns, burnOutcome(h, b, v))
}

func burnOutcome(h *heater, e *ended, v shutdown.Verdict) outcome.Burn {
	b := e.Burn
	return outcome.Burn{
		Type: "burn", At: b.End, Heater: h.ID, Start: b.Start, End: b.End, Seconds: b.Seconds,
		Ending: v.Ending, Evidence: orNone(v.Evidence), Checks: orNone(v.Checks), StartUnseen: b.StartUnseen,
	}
}

func orNone(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// countEarly adds an ending to the tally when it is first judged, so that a
// counter need not wait for what a node's buffer may still bring.
func (h *heater) countEarly(number int32, why outcome.Ending) {
	if !slices.Contains(h.Early, number) {
		h.Early = append(h.Early, number)
		h.count(why)
	}
}

// countFinal adds a final ending that was not judged before, as one that what
// came late made.
func (h *heater) countFinal(number int32, why outcome.Ending) {
	if i := slices.Index(h.Early, number); i >= 0 {
		h.Early = slices.Delete(h.Early, i, i+1)
		return
	}
	h.count(why)
}

// count adds an ending to the heater's tally.
func (h *heater) count(why outcome.Ending) {
	for i, w := range outcome.Endings() {
		if w == why {
			h.Endings[i]++
		}
	}
}
