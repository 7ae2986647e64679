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
	airPerH float64

	// Kept by recount, used every second.
	riseC  float64 // °C above outside at which the present heat would settle
	addPPM float64 // ppm above outside at which the present source would settle
	kT, kC float64 // share of the distance to there covered in one second

	dose dose
}

func newSpace(s SpaceSpec, on *site) space {
	sp := space{spec: s, site: on, tempC: s.StartC, coPPM: cmp.Or(s.StartPPM, s.BackgroundPPM), airPerH: s.AirPerH}
	sp.dose = newDose(sp.coPPM)
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
	before := s.coPPM
	s.coPPM += (s.spec.BackgroundPPM + s.addPPM - s.coPPM) * s.kC
	s.dose.add((before + s.coPPM) / 2)
	s.dose.peak = max(s.dose.peak, s.coPPM)
}

// Window lengths of the occupational averages, s: the short-term limit of
// EH40/2005 and Directive (EU) 2017/164, and the shift of 29 CFR 1910.1000.
const (
	shortS = 15 * 60
	shiftS = 8 * 3600
)

// dose keeps the exact sliding averages of a space, second by second. Before
// a window is full the missing time counts as zero, as 29 CFR 1910.1000(d)
// counts unexposed time.
type dose struct {
	ring       []float32 // mean ppm of each of the last shiftS seconds
	head       int
	shortSum   float64
	shiftSum   float64
	shortMax   float64 // ppm·s
	shiftMax   float64 // ppm·s
	peak       float64
	shortIndex int
}

func newDose(ppm float64) dose {
	return dose{ring: make([]float32, shiftS), shortIndex: shiftS - shortS, peak: ppm}
}

func (d *dose) add(ppm float64) {
	c := float32(ppm)
	d.shiftSum += float64(c) - float64(d.ring[d.head])
	d.shortSum += float64(c) - float64(d.ring[d.shortIndex])
	d.ring[d.head] = c
	d.shiftMax = max(d.shiftMax, d.shiftSum)
	d.shortMax = max(d.shortMax, d.shortSum)
	if d.head++; d.head == shiftS {
		d.head = 0
	}
	if d.shortIndex++; d.shortIndex == shiftS {
		d.shortIndex = 0
	}
}
