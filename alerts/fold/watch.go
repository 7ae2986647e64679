package fold

import (
	"fmt"
	"math"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// tick looks at everything that depends on time alone.
func (e *Engine) tick(now reading.Instant) {
	e.ticks++
	if !e.swept {
		e.endOrphans() // before any timer of theirs runs out
	}
	for _, s := range e.sites {
		e.lookAtSilence(s)
		e.lookAtSite(s)
	}
	for i, h := range e.heaters {
		e.tickHeater(i, h, now)
	}
	if e.ticks%e.ticksIn(time.Minute) == 0 {
		for _, s := range e.sites {
			for _, sp := range s.spaces {
				e.lookAtCourse(sp)
			}
		}
	}
	for _, s := range e.sites {
		s.weighAir(&e.rules, now)
	}
	e.emit(e.book.Tick(now))
}

// tickHeater looks at one heater. What need not be at once is spread over the
// ticks; samples are settled several at a time, while what they touch is at
// hand.
func (e *Engine) tickHeater(i int, h *heater, now reading.Instant) {
	if h.Spoilt != 0 {
		h.renew(now)
	}
	if now.Sub(h.Heard) > e.rules.Tick { // else its own reading has just done this
		e.lookAtEnding(h)
	}
	turn := int64(i) + e.ticks
	if turn%e.ticksIn(e.rules.Settle) == 0 {
		e.settle(h, now)
		e.lookAtFuel(h)
	}
	e.lookAtCrests(h)
	if turn%e.ticksIn(time.Minute) == 0 {
		e.lookAtHeldAir(h)
	}
	if turn%e.ticksIn(10*time.Minute) == 0 {
		e.judgeAgain(h)
		if len(h.Recent) > 0 && h.goesOn(now) {
			e.lookAtPattern(h)
		}
	}
	if turn%e.ticksIn(time.Hour) == 0 {
		e.lookAtWork(h)
		h.site.weighAir(&e.rules, now) // by flames that may be forgotten
		h.site.forget(&e.rules, now)
		h.forgetStops(now)
	}
}

func (e *Engine) ticksIn(d time.Duration) int64 { return max(1, int64(d/e.rules.Tick)) }

// settle settles what time has settled, and tells what can no longer change.
func (e *Engine) settle(h *heater, now reading.Instant) {
	e.giveUpDoubt(h)
	if len(h.Pending) > 0 {
		h.settle(now)
	}
	if len(h.Open) > 0 {
		e.conclude(h, false)
	}
}

// observe hands a condition to the book and keeps what it changed.
func (e *Engine) observe(c alarm.Condition) {
	if c.Active && !c.Kind.ConcernsPeople() {
		c.Findings.Air = e.airAt(&c)
	}
	e.emit(e.book.Observe(e.now, c))
}

func (e *Engine) emit(ts []alarm.Transition) {
	e.effects.Transitions = append(e.effects.Transitions, ts...)
}

// lookAtHeater looks at what a new reading can change at once. Only what was
// measured since before ends anything.
func (e *Engine) lookAtHeater(h *heater, before *Known) {
	e.lookAtEnding(h)
	e.lookAtWarmth(h, h.Live.Known.TempAt > before.TempAt)
	if h.Live.Known.Carries(reading.Fuel) {
		e.lookAtFuel(h)
	}
	e.lookAtTrust(h, before.COAt)
}

func (e *Engine) lookAtWarmth(h *heater, fresh bool) {
	w := &h.Live
	if !w.Known.Carries(reading.Temp) || h.space == nil {
		return
	}
	if p := h.space.ProtectAboveC; p != nil && h.space.changes(h, coldBit, (*heater).cold) {
		e.warmth(h, coldBit, alarm.SpaceCold, *p, w.Warm.Cold(), fresh)
	}
	if p := h.space.ProtectBelowC; p != nil && h.space.changes(h, hotBit, (*heater).hot) {
		e.warmth(h, hotBit, alarm.SpaceHot, *p, w.Warm.Hot(), fresh)
	}
}

// changes reports whether what h says of the space may change its alarm: that
// it is so, or that it is not where the book knows of it and no other says so.
func (s *space) changes(h *heater, bit still, is func(*heater) bool) bool {
	return is(h) || s.still&bit == 0 && !s.others(h, is)
}

func (h *heater) cold() bool { return h.tells(reading.Temp) && h.Live.Warm.Cold() }
func (h *heater) hot() bool  { return h.tells(reading.Temp) && h.Live.Warm.Hot() }

// tells reports whether the unit on the heater measures a quantity, as far as
// it was ever heard.
func (h *heater) tells(q reading.Quantity) bool { return h.node != "" && h.Live.Known.Carries(q) }

func (e *Engine) warmth(h *heater, bit still, k alarm.Kind, limit float64, active, fresh bool) {
	e.holdSpace(h, bit, k, active, func(c *alarm.Condition) {
		c.Value, c.Limit, c.HasValue, c.Unit = float64(h.Live.Known.Temp), limit, true, "Cel"
		if c.Since, c.Known = h.Live.Known.TempAt, fresh; h.Clock.Lags() {
			c.Since = e.now // as for CO, a clock that most likely is behind tells of now
		}
		c.Late = active && e.now.Sub(c.Since) > e.rules.Lateness
		if k == alarm.SpaceCold {
			c.Under = e.causeOfCold(h.space, c.Key)
		}
		if active && !c.Late {
			c.Findings.Seen = e.seenIn(h.space)
		}
		if k == alarm.SpaceCold {
			c.Priority = alarm.High // the harm has begun
		}
	})
}

// causeOfCold gives the stop that a cold space follows from, nil where none is
// known: then the stop is the alarm, and the cold, key, is shown under it. A stop
// since it was cold is another matter: a heater that goes out again and again
// would have the cold told anew each time that it lit.
func (e *Engine) causeOfCold(s *space, key alarm.Key) *alarm.Key {
	since := e.now
	if a, ok := e.book.Get(key); ok && a.Active {
		since = a.Since
	}
	var causes []alarm.Key
	for _, o := range s.heaters { // what befell another space makes this one no colder
		if o.standsFor(outcome.SiteWide) {
			causes = append(causes, alarm.Key{Kind: alarm.ShutdownUnexplained, Site: s.site.ID})
		}
		if o.standsFor(outcome.SupplyLost) {
			causes = append(causes, alarm.Key{Kind: alarm.SupplyLost, Site: s.site.ID})
		}
		causes = append(causes, o.key(alarm.ShutdownUnexplained))
	}
	for _, key := range causes {
		if e.told(key, since) {
			return &key
		}
	}
	return nil
}

// told reports whether somebody is, or was, asked to see to an alarm that holds,
// and has held since then or longer: one that is kept quiet takes no other with
// it.
func (e *Engine) told(key alarm.Key, since reading.Instant) bool {
	a, ok := e.book.Get(key)
	return ok && a.Active && a.Since <= since && (a.State == alarm.Unacknowledged || a.State == alarm.Acknowledged)
}

// lookAtFuel raises fuel-low by the level sent, else by the run since the
// last known fill, which changes slowly.
func (e *Engine) lookAtFuel(h *heater) {
	level, known := h.level(e.now)
	if !known {
		level, known = h.levelAtBest()
	}
	out := h.standsFor(outcome.FuelOut) && h.Live.Fill.At <= h.Live.Last.Burn.End
	if !known && !out {
		e.lookAtFill(h)
		return
	}
	e.holdHeater(h, fuelBit, alarm.FuelLow, out || level <= e.rules.FuelLow, func(c *alarm.Condition) {
		c.Value, c.Limit, c.HasValue, c.Unit = level, e.rules.FuelLow, known, "/"
		c.Since = h.Live.At
		if w := &h.Live; w.Known.Carries(reading.Fuel) && h.gaugeStuck(w, w.Burner.HoursAt(w.At).Run) {
			c.Findings.Evidence = []string{fmt.Sprintf("its gauge stands at %.0f %% while it burns, so this is by the plate", w.Known.Fuel*100)}
		}
		if out {
			e.ranDry(h, c)
		}
	})
}

// lookAtFill ends low fuel where nothing tells the level any more, by the word
// of a person who filled the tank.
func (e *Engine) lookAtFill(h *heater) {
	key, f := h.key(alarm.FuelLow), &h.Live.Fill
	if a, ok := e.book.Get(key); ok && a.Active && f.Known && !f.Sent && f.At > a.Since {
		e.put(false, key, nil)
	}
}

// ranDry says of low fuel that the heater went out for it; it is as urgent as
// the cold that follows.
func (e *Engine) ranDry(h *heater, c *alarm.Condition) {
	c.Since = h.Live.Last.Burn.End
	c.Findings.Evidence = append([]string{"it went out, by all signs for want of fuel"}, h.Judged.Verdict.Evidence...)
	var cold alarm.Condition
	c.Priority = e.harm(h, alarm.FuelLow, &cold)
}

// levelAtBest gives the most there can be in a tank of which nobody wrote that
// it was filled: full when the record began. It is known once that is low;
// and once the heater ran on for longer than a tank lasts, somebody filled it.
func (h *heater) levelAtBest() (level float64, known bool) {
	if h.TankL == 0 || h.BurnLPerH == 0 {
		return 0, false
	}
	level = 1 - h.Live.Burner.HoursAt(h.Live.At).Run*h.BurnLPerH/h.TankL
	if filled := level < -h.rules.RefillRise; filled {
		return 1, true
	}
	return max(0, level), level <= h.rules.FuelLow
}

// gauged is a level as a gauge tells it, to a hundredth of a percent: kept in few
// bits, 15 % lies a hair above 15 %.
func gauged(level float32) float64 { return math.Round(float64(level)*1e4) / 1e4 }

func (h *heater) level(now reading.Instant) (level float64, known bool) {
	w := h.written(now)
	run := w.Burner.HoursAt(max(w.At, w.Fill.At)).Run
	switch {
	case w.Known.Carries(reading.Fuel) && !h.gaugeStuck(w, run):
		return gauged(w.Known.Level), true
	case w.Known.Carries(reading.Fuel), w.Fill.Known && h.TankL > 0 && h.BurnLPerH > 0:
		return h.levelBy(w, run), true
	}
	return 0, false
}

// jumpFor is how long a jump of the counter is told, and a counter that goes
// against the flame after its last reading. Common practice, no source.
const jumpFor = 24 * time.Hour

// lookAtTrust raises what makes a node's word doubtful; before is when its last
// CO was of, before this reading.
func (e *Engine) lookAtTrust(h *heater, before reading.Instant) {
	e.lookAtCell(h, before)
	off, skewed := h.Clock.Skewed()
	e.holdNode(h, clockBit, alarm.NodeClock, skewed, func(c *alarm.Condition) {
		c.Value, c.HasValue, c.Unit = off.Seconds(), true, "s"
	})
	at, jumped := h.Live.Burner.LastJump()
	read, odd := h.Live.Burner.Distrusted()
	jumped = jumped && e.now.Sub(at) < jumpFor || odd && e.now.Sub(read) < jumpFor
	e.holdNode(h, jumpBit, alarm.RuntimeJump, jumped, func(c *alarm.Condition) {
		if c.Since = at; h.Live.Burner.RunsOn(&e.rules.Burner) {
			c.Findings.Sure = "it runs on when the flame is out, as one that counts the fan does"
		}
	})
}
