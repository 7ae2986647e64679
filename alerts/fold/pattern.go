package fold

import (
	"fmt"
	"slices"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/burner"
	"heaterd/alerts/outcome"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// stop is a person's word that a heater would be off.
type stop struct {
	From, To reading.Instant
	By       string
}

func (h *heater) forgetStops(now reading.Instant) {
	old := now.Add(-h.rules.patience() - 3*h.rules.Lateness - h.rules.Shutdown.PlannedSlack)
	h.Stops = slices.DeleteFunc(h.Stops, func(s stop) bool { return s.To < old })
}

// stopAt finds the planned stop that covers an instant.
func (h *heater) stopAt(at reading.Instant) bool {
	return slices.ContainsFunc(h.Stops, func(s stop) bool { return s.From <= at && at < s.To })
}

// stopNow gives the planned stop that runs and ends last; nil: none.
func (h *heater) stopNow(at reading.Instant) *stop {
	var last *stop
	for i := range h.Stops {
		if s := &h.Stops[i]; s.From <= at && at < s.To && (last == nil || s.To > last.To) {
			last = s
		}
	}
	return last
}

// stopNext gives the planned stop that begins first after an instant; nil: none.
func (h *heater) stopNext(at reading.Instant) *stop {
	var next *stop
	for i := range h.Stops {
		if s := &h.Stops[i]; s.From > at && (next == nil || s.From < next.From) {
			next = s
		}
	}
	return next
}

// endStops ends what runs at an instant and forgets what was to come.
func (h *heater) endStops(at reading.Instant) {
	h.Stops = slices.DeleteFunc(h.Stops, func(s stop) bool { return s.From >= at })
	for i := range h.Stops {
		h.Stops[i].To = min(h.Stops[i].To, at)
	}
}

// keptEndings is how many of a heater's last unexplained endings the patterns
// look at, and keptFor how far back. Common practice, no source.
const (
	keptEndings = 32
	keptFor     = 30 * 24 * time.Hour
)

// remember adds the last ending, as judged, to those the patterns look at. What
// a straggler has split or joined to this burn since it was judged is no ending
// of its own; an ordinary one is kept only until the next, while it may still
// be judged anew: else a heater that cycles would crowd out what goes wrong.
func (h *heater) remember(b burner.Burn, why outcome.Ending) {
	h.Recent = slices.DeleteFunc(h.Recent, func(p shutdown.Past) bool {
		return p.End > b.Start || p.Ending != outcome.Unexplained || b.End.Sub(p.End) > keptFor
	})
	h.Recent = append(h.Recent, shutdown.Past{
		End: b.End, Lasted: time.Duration(b.Seconds * float64(time.Second)), Ending: why,
	})
	if n := len(h.Recent) - keptEndings; n > 0 {
		h.Recent = slices.Delete(h.Recent, 0, n)
	}
}

// lookAtPattern raises what only shows over several endings, and ends it when
// they are long enough ago.
func (e *Engine) lookAtPattern(h *heater) {
	again := shutdown.Repeating(h.Recent, e.now, &e.rules.Shutdown)
	e.holdHeater(h, repeatingBit, alarm.ShutdownsRepeating, again.Found, func(c *alarm.Condition) {
		c.Findings.Evidence = append(again.Evidence, shutdown.Alike(h.Recent, h.site.Zone, &e.rules.Shutdown)...)
		c.Findings.Checks = again.Checks
		if h.Live.Dims.often(e.now) {
			c.Findings.Evidence = append(c.Findings.Evidence, unseen)
		}
	})
	short := shutdown.NotHolding(h.Recent, e.now, &e.rules.Shutdown)
	e.holdHeater(h, holdingBit, alarm.FlameNotHolding, short.Found, func(c *alarm.Condition) {
		c.Findings.Evidence = short.Evidence
		c.Findings.Checks = short.Checks
	})
}

// goesOn reports whether time may end what the endings made a pattern: the
// heater is seen to burn since, or a person wrote down work on it.
func (h *heater) goesOn(now reading.Instant) bool {
	_, lit := h.Live.Burner.Current()
	return lit && !h.silentAt(now) || h.visitedSince(h.Live.Last.Burn.End)
}

// noteFault keeps an unexplained ending for the trend over burner hours.
func (h *heater) noteFault(b *ended, v shutdown.Verdict) {
	if v.Ending == outcome.Unexplained {
		h.Faults = append(h.Faults, shutdown.Fault{At: b.Burn.End, Hours: b.Hours})
	}
}

// visitedSince reports whether a person wrote down work on the heater.
func (h *heater) visitedSince(at reading.Instant) bool { return h.Visited > at }

// nearLive gives the endings of other heaters that may belong to one event
// at e, by everything received.
func (s *site) nearLive(e *ended, within time.Duration) []ending {
	out := s.near(e, within)
	for _, h := range s.heaters {
		l := &h.Live.Last
		if l.Number > h.Settled.Last.Number && l.near(e, within) {
			out = append(out, ending{h, l})
		}
	}
	return out
}

func (e *ended) near(o *ended, within time.Duration) bool {
	return e.Burn.EndHigh >= o.Burn.EndLow.Add(-within) && e.Burn.EndLow <= o.Burn.EndHigh.Add(within)
}

// raiseEnding keeps the alarm of the last ending: it stands until the heater
// burns again, or a person writes down what was done.
func (e *Engine) raiseEnding(h *heater) {
	late := e.now.Sub(h.Live.At) > e.rules.Lateness
	if late && h.Judged.Told && !h.visitedSince(h.Live.Last.Burn.End) {
		return // said once; nothing newer is known of the heater
	}
	h.Judged.Told = true
	under := e.toldWith(h)
	stands := h.standsFor(outcome.Unexplained) || h.Judged.Held && h.Judged.Verdict.Ending == outcome.Unexplained
	h.Judged.Held = false // what has lit again meanwhile is told once nevertheless
	e.holdHeater(h, shutdownBit, alarm.ShutdownUnexplained, stands || under != nil, func(c *alarm.Condition) {
		v := &h.Judged.Verdict
		c.Under = under
		c.Since = h.Live.Last.Burn.End
		c.Late = c.Active && late
		c.Findings.Evidence, c.Findings.Checks = v.Evidence, v.Checks
		if alike := shutdown.Alike(h.Recent, h.site.Zone, &e.rules.Shutdown); v.Ending == outcome.Unexplained && len(alike) > 0 {
			c.Findings.Evidence = slices.Concat(v.Evidence, alike)
		}
		if n := h.silentSince(c.Since); n > 0 {
			c.Findings.Evidence = append([]string{fmt.Sprintf("%d other units of the site fell silent about then: look at its supply first", n)}, c.Findings.Evidence...)
		}
		c.Priority = e.harm(h, alarm.ShutdownUnexplained, c)
		if h.stopAt(e.now) {
			c.Suppress = "a planned stop of this heater runs"
		}
	})
}

// toldWith is the alarm of the site that a stop belongs to, as it turns out
// after it was told by itself: the heater is still out, so that is not over.
func (e *Engine) toldWith(h *heater) *alarm.Key {
	why := h.Judged.Verdict.Ending
	if why != outcome.SiteWide && why != outcome.SupplyLost || !h.standsFor(why) || !e.alarmed(h.key(alarm.ShutdownUnexplained)) {
		return nil
	}
	key := alarm.Key{Kind: alarm.ShutdownUnexplained, Site: h.Site}
	if why == outcome.SupplyLost {
		key.Kind = alarm.SupplyLost
	}
	if !e.alarmed(key) {
		return nil
	}
	return &key
}

// silentWith is how near to the end of a burn the last word of another unit may
// be to have to do with it. Common practice, no source.
const silentWith = 3 * time.Minute

// silentSince counts the other units of the site that are silent since about
// an instant.
func (h *heater) silentSince(at reading.Instant) int {
	n := 0
	for _, o := range h.site.heaters {
		if o != h && o.node != "" && o.Heard != 0 && o.Heard.Sub(at).Abs() <= silentWith && h.Heard.Sub(o.Heard) > silentWith {
			n++
		}
	}
	return n
}

// standsFor reports whether the heater is out since an ending of this kind
// and nobody has seen to it.
func (h *heater) standsFor(why outcome.Ending) bool {
	l := &h.Live.Last
	return h.Judged.Done && h.Judged.Verdict.Ending == why && l.Relit == 0 && !h.visitedSince(l.Burn.End)
}

// lookAtSite raises one alarm for heaters that went out together.
func (e *Engine) lookAtSite(s *site) {
	e.together(s, supplyBit, alarm.SupplyLost, outcome.SupplyLost)
	e.together(s, shutdownBit, alarm.ShutdownUnexplained, outcome.SiteWide)
}

func (e *Engine) together(s *site, bit still, k alarm.Kind, why outcome.Ending) {
	var out []string
	var seen []alarm.Seen
	var since reading.Instant
	var first *heater
	for _, h := range s.heaters {
		if h.standsFor(why) {
			out, seen = append(out, h.ID), append(seen, e.seen(h))
			if first == nil || h.Live.Last.Burn.End < since {
				since, first = h.Live.Last.Burn.End, h
			}
		}
	}
	key := func() alarm.Key { return alarm.Key{Kind: k, Site: s.ID} }
	e.hold(&s.still, bit, len(out) > 0, key, func(c *alarm.Condition) {
		if first == nil {
			return
		}
		c.Since, c.Findings.Heaters, c.Findings.Seen = since, out, seen
		c.Findings.Evidence = first.Judged.Verdict.Evidence
		c.Findings.Checks = first.Judged.Verdict.Checks
		c.Priority = e.harm(first, k, c)
	})
}
