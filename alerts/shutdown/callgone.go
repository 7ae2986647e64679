package shutdown

import "heaterd/ingest/reading"

// callGone reports whether the call for heat that fell as the heater went out
// was taken from it, by whatever puts out a heater and its thermostat's circuit
// alike, and not ended by the thermostat: none stops asking where it is colder
// than it begins to, nor fails to ask again.
func (e *Evidence) callGone(o *Options) bool {
	on, known := e.begins(o)
	if !known || !e.Burn.HasTemp {
		return false
	}
	if float64(e.Burn.TempEnd) < on-e.missedUp()-e.behind(o) {
		return true
	}
	if e.PlannedWindow || e.PlannedStop {
		return false
	}
	if e.ChilledAfter > 0 {
		asked := e.Vain > 0 && e.VainAfter <= e.ChilledAfter
		return !asked && !(e.HeldAfter > 0 && e.HeldAfter < e.ChilledAfter)
	}
	held := e.HeldAfter > 0 && e.HeldAfter < e.Known
	return !held && e.Vain == 0 && e.HasLowest && float64(e.Lowest) < on-e.missedDown()
}

// begins gives the temperature below which the thermostat must ask for heat: by
// where the heater usually lights again, else by the setpoint.
func (e *Evidence) begins(o *Options) (float64, bool) {
	switch {
	case e.Thermostat == nil:
		return 0, false
	case int(e.UsualOn.N) >= o.UsualFrom:
		return e.UsualOn.C - o.slack(e.UsualOn) - callSlack*e.band(), true
	}
	return e.Thermostat.SetpointC - e.band() - 2*o.BandSlackC, true
}

// callSlack is how much colder than where it usually lights, × the differential,
// a heater must be before its thermostat is taken to ask for sure: a door stood
// open. Common practice, no source.
const callSlack = 0.5

// callFell reports whether the call for heat fell with the flame.
func (e *Evidence) callFell(o *Options) bool {
	b := &e.Burn
	return b.CallFell != 0 && b.CallFell >= b.EndLow.Add(-o.CallLead) && b.After.Carries(reading.Call) && b.After.On&reading.Call == 0
}

// CallTaken reports whether it fell, and not by the thermostat's doing.
func (e *Evidence) CallTaken(o *Options) bool { return e.callFell(o) && e.callGone(o) }

// callsTaken reports whether the call of another heater that went out in the
// same seconds was taken from it: what takes one takes the others.
func (e *Evidence) callsTaken(o *Options) bool {
	for i := range e.Others {
		if x := &e.Others[i]; x.CallTaken && e.atOnce(x, o) {
			return true
		}
	}
	return false
}
