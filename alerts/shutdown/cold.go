package shutdown

// What a heater that got colder than usual before it lit again tells: whether
// it was asked to light and did not.

// missedCold is how much colder, °C, than where it usually lights again the
// coldest reading of one that lit again may be: those of the times before missed
// the coldest by as much at most. It does not grow with the age of that reading,
// for the heater should have been lit by then.
func (e *Evidence) missedCold() float64 { return float64(e.Pace.Fall) * e.Burn.Gap.Seconds() }

// dipped reports whether a heater that switched off where it usually does lit
// again no later than usual, and as soon as it got colder than usual: a door
// stood open, and it gets colder yet until the flame is there. One that was
// asked to light and did not took longer.
func (e *Evidence) dipped(o *Options) bool {
	warm := float64(e.Burn.TempEnd) >= e.Usual.C-o.slack(e.Usual) && int(e.Usual.N) >= o.UsualFrom
	return warm && e.prompt(o) && e.asUsual(o) && !e.late(o)
}

// prompt reports whether it lit again as soon as it had got colder than it
// usually does, as far as readings so far apart tell.
func (e *Evidence) prompt(o *Options) bool {
	cooled := e.ChilledAfter > e.Burn.Gap && float64(e.Lowest) < e.UsualOn.C-o.slack(e.UsualOn)
	return !e.Relit || !cooled || e.RelitAfter-e.ChilledAfter <= o.RelightSoon+e.Burn.Gap
}

// late reports whether it stayed out for longer than it usually does, as far as
// readings so far apart tell; false where that is not known.
func (e *Evidence) late(o *Options) bool {
	usual, known := e.Pace.Out.Usual(o.UsualFrom)
	return known && e.RelitAfter.Seconds() > doorLate*usual+e.Burn.Gap.Seconds()
}

// doorLate is by how much, × the usual time out, one time out differs from
// another of the same day. Common practice, no source.
const doorLate = 1.25
