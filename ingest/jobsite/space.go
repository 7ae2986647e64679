package jobsite

import (
	"cmp"
	"math"
)

// ppmM3PerGram is the volume of pure CO in one gram, in ppm·m³, at 25 °C:
// 1 ppm is 1.14489 mg/m³ (molar mass 28.01 g/mol, molar volume 24.465 L/mol;
// the basis of the NIOSH Pocket Guide's conversion).
const ppmM3PerGram = 1000 / 1.14489

// leastAir keeps the balance defined for a space said to have no air change
// at all, per hour. Chosen, no source.
const leastAir = 0.01

// space is one well-mixed zone, advanced by whole seconds.
type space struct {
	spec    SpaceSpec
	site    *site
	heaters []*heater

	tempC   float64
	coPPM   float64
	peakPPM float64
	airPerH float64

	// Kept by recount, used every second.
	riseC  float64 // °C above outside at which the present heat would settle
	addPPM float64 // ppm above outside at which the present source would settle
	kT, kC float64 // share of the distance to there covered in one second
}

func newSpace(s SpaceSpec, on *site) space {
	sp := space{spec: s, site: on, tempC: s.StartC, coPPM: cmp.Or(s.StartPPM, s.BackgroundPPM), airPerH: s.AirPerH}
	sp.peakPPM = sp.coPPM
	sp.recount()
	return sp
}

// recount works out heat and source again after a flame, a fouling or the
// ventilation changed.
func (s *space) recount() {
	heatKW, sourceG := 0.0, 0.0
	for _, h := range s.heaters {
		if h.phase == lit {
			heatKW += h.spec.InputKW
			sourceG += h.spec.COGPerH * h.foul
		}
	}
	air := max(s.airPerH, leastAir)
	s.riseC = heatKW / s.spec.LossKWPerK
	s.addPPM = sourceG * ppmM3PerGram / (air * s.spec.VolumeM3)
	s.kT = -math.Expm1(-1 / (s.spec.TauH * 3600))
	s.kC = -math.Expm1(-air / 3600)
}

// second advances the balances by one second, exactly for constant inputs.
func (s *space) second() {
	s.tempC += (s.site.outsideC + s.riseC - s.tempC) * s.kT
	s.coPPM += (s.spec.BackgroundPPM + s.addPPM - s.coPPM) * s.kC
	s.peakPPM = max(s.peakPPM, s.coPPM)
}
