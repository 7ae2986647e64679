package burner

// Fall is what a counter hides that goes on, when its unit starts again, from a
// value it had saved: what burned since then is lost. Where the counter has risen
// above what it last told before anybody looks, nothing shows that it fell. Once
// one was seen to fall, more may have burned in every silence than it tells.
type Fall struct {
	Hid  float64 // s that the silences so far may hide
	Seen bool
}

// fell notes that the counter may have gone on from a value it had saved; another
// unit's would hardly be so near.
func (s *State) fell(o *Options) {
	c := &s.Counter
	by := c.Value - c.Trial.Value
	switch {
	case by <= 0 || by > o.SavedWithin:
		c.Fall = Fall{}
	case c.Trial.Value > c.Trial.At.Seconds(c.At)+c.quantum(): // else it began at 0
		c.Fall.Seen = true
		s.Sum.High += c.Fall.Hid
		c.Fall.Hid = 0
	}
}

// hiding adds what a fall may hide in a stretch: in a silence, and where the counter
// gained less than the flame tells, which is else a break that nobody saw.
func (c *Counter) hiding(w *Tally, burned Span, o *Options) Span {
	hid := max(0, w.High-burned.High)
	switch {
	case !w.Gap && w.Low <= burned.High+c.quantum()+2*o.ClockRound:
	case c.Fall.Seen:
		burned.High += hid
	default:
		c.Fall.Hid += hid
	}
	return burned
}
