package shutdown

// sensorLag is how far, s, a node's sensor is behind the thermostat's own: it
// hangs in a box. Common practice, no source.
const sensorLag = 90.0

// behind is how much colder, °C, than where it usually switches off a sensor may
// read as the thermostat does: a burn that began colder than usual warms its
// space faster through that than others, and the sensor lags. It also takes
// longer than others: one cut short was not satisfied.
func (e *Evidence) behind(o *Options) float64 {
	b := &e.Burn
	lit, known := e.Pace.Lit.Usual(o.UsualFrom)
	cold := e.UsualOn.C - o.slack(e.UsualOn)
	if !known || lit <= 0 || int(min(e.Usual.N, e.UsualOn.N)) < o.UsualFrom || !b.HasTemp || float64(b.TempStart) >= cold || b.Seconds < lit {
		return 0
	}
	rate, usual := float64(b.TempEnd-b.TempStart)/b.Seconds, max(0, e.Usual.C-e.UsualOn.C)/lit
	return min(max(0, rate-usual)*sensorLag, e.band())
}
