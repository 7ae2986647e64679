package warmth

import "math"

// The figures of space-cold and space-hot where a space gives none.
const (
	DefaultHotC = 40.0 // °C at the node; common practice, no source
	DeadBandC   = 0.5  // °C past the limit before a condition ends; common practice, no source
)

// Limits are what a space is kept between, °C.
type Limits struct {
	AboveC *float64 // must stay above; nil: nothing to protect
	BelowC *float64 // must stay below; nil: DefaultHotC
}

func (l Limits) hot() float64 {
	if l.BelowC == nil {
		return DefaultHotC
	}
	return *l.BelowC
}

// HoursTo gives the hours until a body at t0 that cools towards ta with the
// time constant tau (hours) reaches tx, any one unit of temperature:
// τ·ln((T0−Ta)/(Tx−Ta)). It is 0 where tx is reached already; false where it
// never is.
func HoursTo(t0, ta, tx, tau float64) (float64, bool) {
	switch {
	case t0 <= tx:
		return 0, true
	case tx <= ta || !(tau > 0):
		return 0, false
	}
	return tau * math.Log((t0-ta)/(tx-ta)), true
}
