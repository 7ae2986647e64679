package warmth

import (
	"math"

	"heaterd/ingest/reading"
)

// Envelope is what a space's own coolings say about it.
type Envelope struct {
	TauHours         float64 // time constant
	TauLow, TauHigh  float64 // about 95 %
	OutsideC         float64 // temperature it cools towards
	OutsideErrC      float64 // about 95 %
	ScatterCPH       float64 // scatter of one observed cooling rate, °C/h
	ObservedCoolings float64 // weight of the observations
}

// Envelope gives what was learned; false where the coolings seen were too
// few, too small or too scattered to tell. The rate of cooling is
// (T−Ta)/τ, so a straight line of rate against temperature has the slope 1/τ
// and is zero at Ta.
func (s *State) Envelope() (Envelope, bool) {
	c := s.Fit
	if c.N < enoughWeight {
		return Envelope{}, false
	}
	stt := c.TT - c.T*c.T/c.N
	if 2*math.Sqrt(max(stt/c.N, 0)) < enoughSpanC {
		return Envelope{}, false
	}
	slope := (c.TR - c.T*c.R/c.N) / stt
	srr := c.RR - c.R*c.R/c.N
	noise := max((srr-slope*slope*stt)/(c.N-2), rateNoise*rateNoise)
	se := math.Sqrt(noise / stt)
	tau := 1 / slope
	if slope < sureness*se || tau < tauLeast || tau > tauMost {
		return Envelope{}, false
	}
	outside := (c.T - c.R/slope) / c.N
	far := c.T/c.N - outside // how far the fit reaches beyond what was seen
	return Envelope{
		TauHours: tau, TauLow: 1 / (slope + 2*se), TauHigh: 1 / (slope - 2*se),
		OutsideC:         outside,
		OutsideErrC:      2 * math.Sqrt(noise/c.N+far*far*se*se) * tau,
		ScatterCPH:       math.Sqrt(noise),
		ObservedCoolings: c.N,
	}, true
}

// Outlook is how long a space lasts without heat.
type Outlook struct {
	Early, Likely, Late float64 // hours from the newest reading
	Cooling             bool    // by the cooling that is going on; else by earlier coolings, if the heat stopped now
	LikelyNever         bool    // by the best estimate it does not get that cold; Early still may
	LateNever           bool    // it may never get that cold
}

// Outlook gives the hours until the space is down to limitC if it gets no
// heat from now on. False where nothing is known to say so, or where even
// the early figure is never: that is not a promise that it stays warm.
//
// Early is a straight line at the fastest rate that fits, which is the
// earliest for a body that cools ever more slowly; it holds as long as the
// outdoor air and the wind stay as they are.
func (s *State) Outlook(limitC float64) (Outlook, bool) {
	if s.Count == 0 {
		return Outlook{}, false
	}
	if s.TempC <= limitC {
		return Outlook{}, true
	}
	e, known := s.Envelope()
	o := Outlook{Cooling: s.cooling()}
	switch {
	case known:
		return o, s.byEnvelope(&o, e, limitC)
	case o.Cooling:
		o.Early = (s.TempC - limitC) / s.RateCPH
		o.Likely, o.LikelyNever, o.LateNever = o.Early, false, true
		return o, true
	}
	return o, false
}

// cooling reports whether a cooling is under way and its rate is recent.
func (s *State) cooling() bool {
	return !s.Lit && s.RateAt != 0 && s.At.Sub(s.RateAt) <= fresh && s.RateCPH > rateNoise
}

// byEnvelope fills the outlook from what was learned, the present rate
// taken in: with τ known, it tells today's outdoor temperature.
func (s *State) byEnvelope(o *Outlook, e Envelope, limitC float64) bool {
	outside, errC := e.OutsideC, e.OutsideErrC
	if o.Cooling {
		outside, errC = s.outsideNow(e)
	}
	low := outside - errC
	if !o.Cooling {
		low = min(low, s.LowestC)
	}
	fastest := max((s.TempC-low)/e.TauLow, s.presentRate(o))
	var ok bool
	o.Likely, ok = HoursTo(s.TempC, outside, limitC, e.TauHours)
	o.LikelyNever = !ok
	o.Late, ok = HoursTo(s.TempC, outside+errC, limitC, e.TauHigh)
	o.LateNever = !ok
	early, mayEver := HoursTo(s.TempC, low, limitC, e.TauLow)
	if !mayEver {
		return false
	}
	o.Early = min(early, max((s.TempC-limitC)/fastest, 0))
	return true
}

// outsideNow weighs the outdoor temperature that the present rate tells
// against the one of earlier coolings, by the scatter of the rate and by how
// far the weather moves.
func (s *State) outsideNow(e Envelope) (outside, errC float64) {
	told := s.TempC - s.RateCPH*e.TauHours
	scatter := e.ScatterCPH * e.TauHours
	both := math.Hypot(scatter, weatherC)
	share := weatherC * weatherC / (both * both)
	return e.OutsideC + share*(told-e.OutsideC), 2*scatter*weatherC/both + (e.TauHigh-e.TauLow)/2*s.RateCPH*share
}

// weatherC is how far the outdoor temperature strays from that of earlier
// coolings, °C, standard deviation. Common practice, no source.
const weatherC = 3.0

func (s *State) presentRate(o *Outlook) float64 {
	if o.Cooling {
		return s.RateCPH
	}
	return 0
}

// Age gives the hours since the newest reading, to take off an outlook.
func (s *State) Age(now reading.Instant) float64 { return now.Seconds(s.At) / 3600 }
