package shutdown

// stream is by how much, °C, the temperatures of a unit that hangs in the warm
// stream of its own heater differ from cycle to cycle though the thermostat
// turns at the same ones: such a unit swings by far more than the space does,
// and by how much depends on how long the heater burned and stayed out.
func (e *Evidence) stream(o *Options) float64 {
	if e.Thermostat == nil || min(int(e.Usual.N), int(e.UsualOn.N)) < o.UsualFrom {
		return 0
	}
	own := e.Usual.C - e.UsualOn.C - regularMost*e.band() - o.BandSlackC
	return streamShare * max(0, own)
}

// streamShare is the share of what a unit swings by more than its space.
// Common practice, no source.
const streamShare = 0.2
