package shutdown

import "heaterd/alerts/fleet"

// unnamed gives the thermostat of a heater whose configuration names none, by
// its own doing: time and again it goes out at one temperature and lights again
// at another. Flames that fail do so at any temperature, and people light them
// again at any other. Nil where that is not known.
func (e *Evidence) unnamed(o *Options) *fleet.Thermostat {
	swing := e.Usual.C - e.UsualOn.C
	switch {
	case int(min(e.Usual.N, e.UsualOn.N)) < o.UnnamedFrom, max(e.Usual.Spread, e.UsualOn.Spread) > o.UnnamedSpreadC:
		return nil
	case swing < o.UnnamedLeastC || swing > o.UnnamedMostC:
		return nil
	}
	return &fleet.Thermostat{SetpointC: e.Usual.C, DifferentialC: swing}
}
