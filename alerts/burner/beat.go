package burner

import "math"

// beat follows how regularly a unit looks, and finds an interval in which its clock
// was put forward; fell is by how many seconds less late its end came than its begin.
// Of a unit that keeps time one interval is longer than all others: the counter
// gained what it gains in those, and the message came after the usual time. A burn
// that broke off has the counter gain less, and a unit that was held up comes later.
func (s *State) beat(v *interval, fell float64, o *Options) {
	beat := float64(s.Beat) / 10
	more := v.span - beat
	put := more > o.ClockRound && more <= o.ClockPut && math.Abs(fell-more) <= o.LagSlop
	switch {
	case !s.Flame.Known:
	case s.Beats == o.Beats && put && v.counted && math.Abs(v.gain-beat) <= v.blur:
		v.stepped = true
	case math.Abs(more) <= o.ClockRound:
		s.Beats = min(s.Beats+1, o.Beats)
	case beat == 0 || math.Abs(v.span-beat*math.Round(v.span/beat)) > o.ClockRound: // else some were lost
		s.Beat, s.Beats = uint16(min(10*v.span, math.MaxUint16)), 0
	}
}
