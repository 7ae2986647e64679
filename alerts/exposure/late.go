package exposure

// Late takes a reading whose place in the record is closed: it counts as a
// reading and for the peak, no more. ppm as for Apply.
func (s *Sensor) Late(ppm float64) {
	if ppm > s.PeakPPM {
		s.PeakPPM = ppm
	}
}

// Newest gives the 15-minute and 8-hour averages, ppm, and the dose estimate,
// % of haemoglobin, at the newest reading: cheap enough for every reading.
func (s *Sensor) Newest() (short, shift, cohb float64) {
	h := s.now(s.Last)
	return h.Short, h.Shift, 100 * h.Bound
}
