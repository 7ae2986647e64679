package burner

import "heaterd/ingest/reading"

// edge is an instant at which a burn began or ended, and between which
// instants it lies.
type edge struct{ at, low, high reading.Instant }

func (e edge) begins() Burn { return Burn{Start: e.at, StartLow: e.low, StartHigh: e.high} }

// within keeps an edge inside the interval.
func (v interval) within(e edge) edge {
	keep := func(t reading.Instant) reading.Instant { return min(max(t, v.from), v.to) }
	return edge{keep(e.at), keep(e.low), keep(e.high)}
}

// around places an edge to the blur of the counter.
func (v interval) around(t reading.Instant) edge {
	return v.within(edge{t, t.AddSeconds(-v.blur), t.AddSeconds(v.blur)})
}

// part is the edge after a share of the interval, anywhere in it.
func (v interval) part(share float64) edge {
	return edge{v.from.AddSeconds(v.span * share), v.from, v.to}
}

// start is where a burn seen to have begun did so: what the counter gained
// before the end of the interval, else midway.
func (v interval) start() Burn {
	switch {
	case v.counted && v.silent: // other burns may lie in the silence
		at := v.to.AddSeconds(-v.gain)
		return v.within(edge{at, at.AddSeconds(-v.blur), v.to}).begins()
	case v.counted:
		return v.around(v.to.AddSeconds(-v.gain)).begins()
	}
	return v.part(0.5).begins()
}

// end is where a burn seen to have ended did so: what the counter gained
// after the start of the interval, else midway.
func (v interval) end() edge {
	switch {
	case v.counted && v.silent:
		at := v.from.AddSeconds(v.gain)
		return v.within(edge{at, v.from, at.AddSeconds(v.blur)})
	case v.counted:
		return v.around(v.from.AddSeconds(v.gain))
	}
	return v.part(0.5)
}

// broke reports whether a burn ended and another began although both ends are
// lit: the counter misses more than rounding explains, or nobody looked for
// too long.
func (v interval) broke(o *Options) bool {
	if !v.counted {
		return v.silent
	}
	missing := v.span*(1-o.CounterRate) - v.gain
	return !v.stepped && missing > o.Hidden+v.blur && (v.gain >= 1 || v.silent)
}

// endInside and startInside share what was burned equally between the burn
// that ended and the one that began.
func (v interval) endInside() edge {
	if !v.counted {
		return v.part(0.25)
	}
	return v.within(edge{v.from.AddSeconds(v.gain / 2), v.from, v.from.AddSeconds(v.gain + v.blur)})
}

func (v interval) startInside() Burn {
	if !v.counted {
		return v.part(0.75).begins()
	}
	return v.within(edge{v.to.AddSeconds(-v.gain / 2), v.to.AddSeconds(-v.gain - v.blur), v.to}).begins()
}

// hides reports whether a burn began and ended although both ends are unlit.
// A counter that ran for all of the interval contradicts the flame instead.
func (v interval) hides(o *Options) bool {
	return v.counted && v.gain >= o.Hidden+v.blur-o.ClockRound-1 && v.gain < v.span-2*o.ClockRound
}

func (v interval) startHidden() Burn {
	idle := v.span - v.gain
	return v.within(edge{v.from.AddSeconds(idle / 2), v.from, v.from.AddSeconds(idle + v.blur)}).begins()
}

func (v interval) endHidden() edge {
	idle := v.span - v.gain
	return v.within(edge{v.to.AddSeconds(-idle / 2), v.from.AddSeconds(v.gain - v.blur), v.to})
}
