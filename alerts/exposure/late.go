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

// ShiftCovered gives the measured share of the 8 h to the newest reading, 0 to 1.
func (s *Sensor) ShiftCovered() float64 { return s.Shift.ring().coverage(int64(s.Last)) }

// MayReach reports whether an average or the dose could come to its limit with
// the newest reading held: cheap, and true too often rather than too seldom.
func (s *Sensor) MayReach(l Limits) bool {
	short, shift, cohb := s.Newest()
	held := max(s.LastPPM, 0)
	reaches := func(value, limit float64) bool { return limit > 0 && value >= limit }
	return reaches(short+held, l.ShortTermPPM) || reaches(shift+held, l.ShiftPPM) ||
		reaches(max(cohb, uptakes[s.Activity%uint8(len(uptakes))].Equilibrium(held)), l.DosePercent)
}
