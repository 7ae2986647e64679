package fold

import "heaterd/alerts/shutdown"

// judgement is what was made of the last ending, for the people on call.
type judgement struct {
	Number  int32 // of the ending
	Verdict shutdown.Verdict
	Done    bool
	Told    bool // its alarm, if any, was looked at
	Held    bool // it was to be judged before, but the next reading might have shown that it was none
}

// pass keeps an ending that another follows before anybody looked at it: a
// buffer brings many at once. Of those that were made anew, it is the ones
// after what came late.
func (h *heater) pass(w *Witness) {
	last := &w.Last
	if w == &h.Settled || last.Number == 0 || h.Judged.Done && h.Judged.Number == last.Number || last.Burn.End < h.Spoilt {
		return
	}
	h.passed = append(h.passed, *last)
}

// judgePassed judges them, so that the record need not wait for what is final.
func (e *Engine) judgePassed(h *heater) {
	passed := h.passed
	h.passed = nil
	for i := range passed {
		b := &passed[i]
		v := h.judge(b, h.Live.habits(), h.site.nearLive(b, e.rules.Together))
		e.effects.Judged = append(e.effects.Judged, burnOutcome(h, b, v))
		h.countEarly(b.Number, v.Ending)
		h.remember(b.Burn, v.Ending)
	}
	if last := &h.Live.Last; h.Judged.Done && h.Judged.Number == last.Number {
		h.remember(last.Burn, h.Judged.Verdict.Ending) // it came after all of them
	}
}

// lookAtEnding judges the last ending by what is known now, once its
// neighbours had time to be heard, and raises what calls for a visit.
func (e *Engine) lookAtEnding(h *heater) {
	if len(h.passed) > 0 {
		e.judgePassed(h)
	}
	last := &h.Live.Last
	if last.Number == 0 {
		return
	}
	if h.Judged.Number != last.Number {
		h.Judged = judgement{Number: last.Number}
	}
	due := e.now.Sub(last.Burn.End) >= e.rules.JudgeAfter
	waits := due && last.Relit == 0 && !h.Judged.Done && h.endMayBeDim(e.now)
	h.Judged.Held = h.Judged.Held || waits
	if ripe := last.Relit != 0 || due && !waits; ripe && !h.Judged.Done {
		h.judgeLive(e)
	}
	if h.Judged.Done {
		e.raiseEnding(h)
	}
}

func (h *heater) judgeLive(e *Engine) {
	last := &h.Live.Last
	h.Judged.Verdict = h.judge(last, h.Live.habits(), h.site.nearLive(last, e.rules.Together))
	h.Judged.Done = true
	e.effects.Judged = append(e.effects.Judged, burnOutcome(h, last, h.Judged.Verdict))
	h.countEarly(last.Number, h.Judged.Verdict.Ending)
	h.remember(last.Burn, h.Judged.Verdict.Ending)
	e.lookAtPattern(h)
}

// judgeAgain takes another look at an ending while the heater stays out: what
// looked like a satisfied thermostat does not while it gets cold.
func (e *Engine) judgeAgain(h *heater) {
	last := &h.Live.Last
	if e.now.Sub(last.Burn.End) <= e.rules.AftermathFor {
		e.explain(h)
	}
}

// explain judges the last ending anew, with what was written down since,
// while the heater stays out. What the record holds of an ending that can no
// longer change stands; who was called for it is told nevertheless.
func (e *Engine) explain(h *heater) {
	last := &h.Live.Last
	if !h.Judged.Done || last.Number == 0 || last.Relit != 0 {
		return
	}
	ev := h.together(last, h.Live.habits(), h.site.nearLive(last, e.rules.Together))
	if shutdown.Cause(ev, &h.rules.Shutdown).Ending == h.Judged.Verdict.Ending {
		return
	}
	v := shutdown.Classify(ev, &h.rules.Shutdown)
	h.Judged.Verdict = v
	e.effects.Judged = append(e.effects.Judged, burnOutcome(h, last, v))
	if n := len(h.Recent); n > 0 && h.Recent[n-1].End == last.Burn.End {
		h.Recent[n-1].Ending = v.Ending
	}
	e.lookAtPattern(h)
}
