package fold

import (
	"cmp"
	"slices"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// ended is a burn that ended, what was known at its end, and what came after.
type ended struct {
	Burn       burner.Burn
	Number     int32   // counted per heater from 1
	Hours      float64 // burner hours run at the end
	FillKnown  bool
	SinceFillH float64 // burner hours since the last known fill, or since the record began
	Full       float64 // ratio of the tank after that fill; 1 where none is known
	Aftermath
	Habits habits  // of this heater, by the burns around this one
	Later  int32   // burns that ended after this one
	Ripe   bool    // Usual is settled
	Failed bool    // its flame had hardly held, nor had the one before
	Stuck  bool    // the fuel gauge had stood still while the heater burned
	TailH  float64 // burner hours of the short flames that followed at once on a burn that had held, this one included; 0: it is none of those
}

// Aftermath is what happened until the heater lit again.
type Aftermath struct {
	Relit    reading.Instant // 0: not yet
	Until    reading.Instant // newest sample looked at while it was out
	Lowest   float32         // °C, the coldest it got
	HasLow   bool
	Relight  float32         // °C, at the first sample lit again; meaningless before, or where there is no Lowest
	Refilled bool            // the tank was filled meanwhile
	Dark     reading.Instant // first sample without mains; 0: none
	Chill    float32         // °C below which the heater would have lit by what was usual then; meaningless where Chilling is not
	Chilling bool
	Chilled  reading.Instant // first sample colder than that; 0: none
	Asks     reading.Instant // since when the thermostat asks for heat again; 0: it does not
	Vain     time.Duration   // the longest that it asked without a flame …
	VainFrom reading.Instant // … and since when
}

// evidence gathers what is known about an ending of h, by the witness w.
func (h *heater) evidence(e *ended, usual habits) shutdown.Evidence {
	b := e.Burn
	ev := shutdown.Evidence{
		Burn:         b,
		Thermostat:   h.Thermostat,
		Usual:        usual.Off,
		UsualOn:      usual.On,
		Pace:         usual.Pace,
		FillKnown:    e.FillKnown,
		SinceFillH:   e.SinceFillH,
		TankH:        h.tankHours(e.Full),
		Fuel:         h.Fuel,
		Known:        max(0, e.Until.Sub(b.End)),
		Lowest:       e.Lowest,
		HasLowest:    e.HasLow,
		Relight:      e.Relight,
		Fixes:        h.Fixes,
		Refilled:     e.Refilled,
		NextFillH:    h.nextFill(e),
		LongestFillH: h.longestFill(e),
		Failing:      e.Failed,
		GaugeStuck:   e.Stuck,
		Dusty:        h.Dusty,
	}
	if e.relit(h) {
		ev.Relit, ev.RelitAfter = true, e.Relit.Sub(b.End)
		ev.Known = ev.RelitAfter
		if e.HasLow {
			ev.LowestAge = e.Relit.Sub(e.Until)
		}
	}
	if e.Chilled != 0 {
		ev.ChilledAfter = e.Chilled.Sub(b.End)
	}
	if e.Vain > 0 {
		ev.Vain, ev.VainAfter = e.Vain, e.VainFrom.Sub(b.End)
	}
	ev.PlannedWindow, ev.PlannedStop, ev.PlannedLead = h.plannedAt(b)
	ev.HeldAfter = h.heldAfter(e)
	if d, _ := h.lastDrop(e); d != nil {
		ev.LastDrops, ev.DropsFilled = d.Refilled || !d.relit(h), d.Refilled
	}
	return ev
}

// relit reports whether the heater lit again while that tells of the ending.
func (e *ended) relit(h *heater) bool {
	return e.Relit != 0 && e.Relit.Sub(e.Burn.End) <= h.rules.AftermathFor
}

// tankHours gives how long a tank filled to full lasts at the plate's rate.
func (h *heater) tankHours(full float64) float64 {
	if h.BurnLPerH == 0 {
		return 0
	}
	return full * h.TankL / h.BurnLPerH
}

// plannedAt says whether the site's hours or a person's word account for the
// end of a burn, and how long after it that planned time began.
func (h *heater) plannedAt(b burner.Burn) (window, stop bool, lead time.Duration) {
	slack := h.rules.Shutdown.PlannedSlack
	for _, s := range h.Stops {
		if !shutdown.EndedByStop(s.From, s.To, b, slack) {
			continue
		}
		if l := s.From.Sub(b.End); !stop || l.Abs() < lead.Abs() {
			stop, lead = true, l
		}
	}
	if stop || !shutdown.EndedByHours(h.site.PlannedOff, h.site.Zone, b, slack) {
		return false, stop, lead
	}
	if next, ok := shutdown.NextOff(h.site.PlannedOff, h.site.Zone, b.End); ok && next.Sub(b.End) <= slack {
		lead = next.Sub(b.End)
	}
	return true, false, lead
}

// heldAfter gives the time from an ending until planned time off or a loss of
// the mains kept the heater from lighting again, 0 where nothing did within a
// week.
func (h *heater) heldAfter(e *ended) time.Duration {
	end := e.Burn.End
	next, ok := shutdown.NextOff(h.site.PlannedOff, h.site.Zone, end)
	for _, s := range h.Stops {
		if s.From > end && (!ok || s.From < next) {
			next, ok = s.From, true
		}
	}
	if e.Dark > end && (!ok || e.Dark < next) {
		next, ok = e.Dark, true
	}
	if !ok {
		return 0
	}
	return next.Sub(end)
}

// judge says why the burn ended, with the endings of the other heaters of the
// site beside it.
func (h *heater) judge(e *ended, usual habits, others []ending) shutdown.Verdict {
	return shutdown.Classify(h.together(e, usual, others), &h.rules.Shutdown)
}

// together gathers what is known about an ending and those of others near it.
func (h *heater) together(e *ended, usual habits, others []ending) shutdown.Evidence {
	ev := h.evidence(e, usual)
	h.site.hold(h, e, &ev)
	ev.MainsWith, ev.DarkWith = h.site.mainsWith(h, e), h.site.darkWith(h, e)
	ev.Others = slices.Grow(ev.Others, len(others))
	for _, o := range others {
		if o.heater != h {
			ev.Others = append(ev.Others, o.heater.beside(o.what))
		}
	}
	ev.LitAtSite = h.site.litAt(h, e.Burn.EndLow, 2*len(ev.Others)+h.rules.Shutdown.Several)
	slices.SortFunc(ev.Others, func(a, b shutdown.Other) int {
		return cmp.Or(cmp.Compare(a.Heater, b.Heater), cmp.Compare(a.End, b.End))
	})
	return ev
}

// hold notes in the evidence when something of the site kept the heater off.
func (s *site) hold(h *heater, e *ended, ev *shutdown.Evidence) {
	for _, t := range []time.Duration{s.troubleAfter(h, e), s.mainsAfter(h, e), s.darkAfter(h, e)} {
		if t > 0 && (ev.HeldAfter == 0 || t < ev.HeldAfter) {
			ev.HeldAfter = t
		}
	}
}

// troubleAfter gives the time from an ending until another heater of the site
// went out for no reason of its own, before this one lit again: what put that
// one out may have kept this one off. 0 where none did. A third one that burned
// on shows that it was nothing of the site.
func (s *site) troubleAfter(h *heater, e *ended) time.Duration {
	first, more := time.Duration(0), third{site: s, not: h}
	for _, o := range s.recent {
		d := o.what.Burn.End.Sub(e.Burn.End)
		if o.heater == h || d <= 0 || o.what.Burn.End > e.looked(h.rules) || first > 0 && d >= first {
			continue
		}
		after := o.what.Burn.EndHigh.Add(h.rules.Together)
		if !more.seen(after) && o.heater.alone(o.what).Ending == outcome.Unexplained && !more.burned(after) {
			first = d
		}
	}
	return first
}

// looked is how far the time after an ending counts.
func (e *ended) looked(r *Rules) reading.Instant {
	until := e.Burn.End.Add(r.AftermathFor)
	if e.Relit != 0 {
		until = min(until, e.Relit)
	}
	return max(until, e.Burn.EndHigh.Add(r.Together))
}

// brief reports whether the flame had hardly held.
func (h *heater) brief(b *burner.Burn) bool {
	return b.Seconds < h.rules.Shutdown.ShortBurn.Seconds() && !b.StartUnseen
}

// alone judges another heater's ending by itself, for comparison.
func (h *heater) alone(e *ended) shutdown.Other {
	return h.other(e, h.evidence(e, h.usualFor(e)))
}

// beside judges it by itself too, but for what kept it off later: a satisfied
// one that the mains then kept from lighting did not fail. Where it did not fail
// as it is, that is not asked: it takes a walk over the endings of the site.
func (h *heater) beside(e *ended) shutdown.Other {
	ev := h.evidence(e, h.usualFor(e))
	if o := h.other(e, ev); o.Ending == outcome.Satisfied || o.Ending == outcome.Planned {
		return o
	}
	h.site.hold(h, e, &ev)
	return h.other(e, ev)
}

func (h *heater) other(e *ended, ev shutdown.Evidence) shutdown.Other {
	o, b := &h.rules.Shutdown, &e.Burn
	v := shutdown.Cause(ev, o)
	return shutdown.Other{
		Heater: h.ID, EndLow: b.EndLow, End: b.End, EndHigh: b.EndHigh, Relit: e.Relit,
		Ending: v.Ending, Plain: v.Plain(o), CallTaken: ev.CallTaken(o), Failing: e.Failed,
	}
}

func (h *heater) usualFor(e *ended) habits {
	if e.Ripe {
		return e.Habits
	}
	return h.Live.habits()
}

// habits is where a heater usually switches off and on, and how fast it does.
type habits struct {
	Off, On shutdown.Usual
	Pace    shutdown.Pace
}

func (w *Witness) habits() habits { return habits{w.Habit.Usual(), w.CutIn.Usual(), w.Pace} }

// near gives the endings of the site that may belong to one event at e.
func (s *site) near(e *ended, within time.Duration) []ending {
	var out []ending
	for _, o := range s.recent {
		if o.what.Burn.EndHigh >= e.Burn.EndLow.Add(-within) && o.what.Burn.EndLow <= e.Burn.EndHigh.Add(within) {
			out = append(out, o)
		}
	}
	return out
}
