package fold

import (
	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// linesBehind is how many lines in a row must be older than the newest by
// more than the lateness window before the daemon's own clock is taken to
// have been set back: one alone may be a slip in a recording. Common
// practice, no source.
const linesBehind = 3

// followClock keeps time with the lines. Their instants are those of the
// daemon's clock at arrival and ascend, but for a clock that is set:
//
//   - set forward, everything since looks late and every node silent until it
//     is heard, which is what a pause would look like;
//   - set back by no more than the lateness window, time stands still until
//     the lines catch up;
//   - set back by more, the record goes on at the earlier time. What was
//     burned, written down and alarmed stands; averages, coolings and the
//     burn in progress begin anew, for what was folded at the later time says
//     nothing about the earlier.
func (e *Engine) followClock(at reading.Instant) {
	if e.now.Sub(at) <= e.rules.Lateness {
		e.behind = 0
		return
	}
	if e.behind++; e.behind < linesBehind {
		return
	}
	e.behind = 0
	e.now, e.nextTick = at, e.tickAfter(at)
	for _, h := range e.heaters {
		e.turnBack(h)
	}
	all := e.book.All()
	for i := range all {
		turnBack(&all[i], at)
	}
	e.SetAlarms(all)
}

// turnBack brings a heater to an earlier time.
func (e *Engine) turnBack(h *heater) {
	e.believe(h)
	h.Heard, h.Begin = min(h.Heard, e.now), min(h.Begin, e.now)
	h.Clock, h.Packs, h.Lag = trust.Clock{}, trust.Cadence{Last: min(h.Packs.Last, e.now)}, 0
	for i := range h.Marks {
		h.Marks[i].At = min(h.Marks[i].At, e.now)
	}
	for i := range h.Before {
		h.Before[i].Until = min(h.Before[i].Until, e.now)
	}
	h.Visited = min(h.Visited, e.now)
	for i := range h.Journal.Notes {
		h.Journal.Notes[i].Visit = min(h.Journal.Notes[i].Visit, e.now)
	}
	h.Journal.Before.Visited = min(h.Journal.Before.Visited, e.now)
	if h.Live.At <= e.now.Add(trust.AheadLimit) {
		return
	}
	h.settleAll()
	e.conclude(h, true)
	h.Settled.rewind(h)
	h.Trail = trail{}
	h.Live = h.Settled
	h.Air, h.Decay, h.Source, h.Judged = nil, exposure.Decay{}, nil, judgement{Number: h.Live.Last.Number, Done: true}
}

// rewind keeps what an earlier time can build on.
func (w *Witness) rewind(h *heater) {
	w.Burner.Rewind()
	air := exposure.NewSensor(h.site.Activity)
	air.PeakPPM, air.Highest = w.Air.PeakPPM, w.Air.Highest
	*w = Witness{
		Burner: w.Burner, Air: air, Habit: w.Habit, CutIn: w.CutIn, Pace: w.Pace, Known: w.Known, Fill: w.Fill, Marked: w.Marked,
		Last: ended{Number: w.Last.Number, Aftermath: Aftermath{Relit: 1}},
	}
	w.Known.COAt, w.Known.TempAt, w.Known.FuelAt = 0, 0, 0
}

// turnBack keeps the timers of an alarm from waiting for a time that is now
// far ahead.
func turnBack(a *alarm.Alarm, at reading.Instant) {
	if left := a.ShelvedUntil.Sub(a.Changed); a.ShelvedUntil > at { // as long as it was shelved for, from now
		a.ShelvedUntil = at.Add(max(left, 0))
	}
	for _, t := range []*reading.Instant{&a.OnFrom, &a.OffFrom, &a.Since, &a.Changed, &a.Raised, &a.AckedAt, &a.Cleared} {
		*t = min(*t, at)
	}
	recent := a.Recent[:0:0]
	for _, t := range a.Recent {
		recent = append(recent, min(t, at))
	}
	a.Recent = recent
}
