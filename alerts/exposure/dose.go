package exposure

import (
	"math"

	"heaterd/ingest/reading"
)

// Uptake is one parameter set of the Coburn-Forster-Kane equation
//
//	d[CO]/dt = VCO/Vb − ([CO]·PcO2/([O2Hb]·M) − PICO)/(Vb·B)
//	B = 1/DL + (PB−47)/VA,  [O2Hb] = OHbMax − [CO]  (the nonlinear form)
//
// with [CO] in mL per mL of blood. The linear form is not offered: it runs
// away above about 10 %.
type Uptake struct {
	VA     float64 // alveolar ventilation, mL/min
	DL     float64 // diffusing capacity of the lung, mL/min/mmHg
	PB     float64 // barometric pressure, mmHg
	PcO2   float64 // mean oxygen pressure in lung capillaries, mmHg
	M      float64 // Haldane affinity ratio
	OHbMax float64 // oxygen capacity of blood, mL/mL
	Vb     float64 // blood volume, mL
	VCO    float64 // CO made by the body, mL/min
	Dry    bool    // inspired CO at dry pressure, ppm·PB, not ppm·(PB−47); over-predicts (Tikuisis 1987)
}

// StartPercent is the carboxyhaemoglobin a record begins with, % (textbook
// value for a non-smoker, from memory).
const StartPercent = 0.75

// waterVapourMMHg is the water vapour pressure in the lung at 37 °C, mmHg.
const waterVapourMMHg = 47

// capFraction is the share of haemoglobin at which the estimate stops: far
// beyond survival, and the point up to which the integration step is proven
// monotone.
const capFraction = 0.95

// doseStepMin is the longest integration step, min: a Sensor steps by the bins
// of the short average. With it more CO never gives a lower estimate; see
// rates.step.
const doseStepMin = float64(shortWidth) / secondsPerMinute

// UptakeFor gives the wet-pressure parameter set of an activity (textbook
// values, origin from memory); an activity that is not known is taken as
// Heavy, whose uptake is the fastest.
func UptakeFor(a Activity) Uptake {
	u := Uptake{PB: 760, PcO2: 100, M: 218, OHbMax: 0.2, Vb: 5500, VCO: 0.007}
	switch a {
	case Rest:
		u.VA, u.DL = 6000, 30
	case Light:
		u.VA, u.DL = 18000, 40
	default:
		u.VA, u.DL = 30000, 60
	}
	return u
}

// B is the resistance of lung and ventilation to CO, mmHg·min/mL.
func (u Uptake) B() float64 { return 1/u.DL + (u.PB-waterVapourMMHg)/u.VA }

// inspired is the CO pressure per ppm of air, mmHg/ppm.
func (u Uptake) inspired() float64 {
	if u.Dry {
		return u.PB * 1e-6
	}
	return (u.PB - waterVapourMMHg) * 1e-6
}

// Equilibrium gives the carboxyhaemoglobin, %, that a lasting concentration
// of ppm leads to: x/(1−x) = M·(PICO + B·VCO)/PcO2.
func (u Uptake) Equilibrium(ppm float64) float64 {
	r := u.M * (u.inspired()*math.Max(ppm, 0) + u.B()*u.VCO) / u.PcO2
	return 100 * r / (1 + r)
}

// rates is the equation in terms of x, the share of haemoglobin bound:
// dx/dt = own + perPPM·ppm − clear·x/(1−x), per minute.
type rates struct{ own, perPPM, clear float64 }

func (u Uptake) rates() rates {
	vbb := u.Vb * u.B()
	return rates{
		own:    u.VCO / u.Vb / u.OHbMax,
		perPPM: u.inspired() / vbb / u.OHbMax,
		clear:  u.PcO2 / (u.M * vbb * u.OHbMax),
	}
}

// step advances x by dt minutes at ppm with the trapezoidal rule, which for
// this equation is a quadratic in the new x. Both sides are increasing
// functions as long as dt·clear/2 < (1−x)², so up to capFraction and
// doseStepMin a higher start or a higher concentration never gives a lower
// result.
func (r rates) step(x, ppm, dt float64) float64 {
	h := r.clear * dt / 2
	rhs := x - h*x/(1-x) + dt*(r.own+r.perPPM*ppm)
	s := 1 + h + rhs
	x = 2 * rhs / (s + math.Sqrt(s*s-4*rhs))
	return min(x, capFraction)
}

// uptakes and activities hold the parameters and the rates of each activity in
// the order of activityCode.
var (
	uptakes    = [...]Uptake{UptakeFor(Heavy), UptakeFor(Light), UptakeFor(Rest)}
	activities = [...]rates{uptakes[0].rates(), uptakes[1].rates(), uptakes[2].rates()}
)

func activityCode(a Activity) uint8 {
	switch a {
	case Light:
		return 1
	case Rest:
		return 2
	default:
		return 0
	}
}

// minutes is the span from j to i in minutes.
func minutes(i, j reading.Instant) float64 { return i.Seconds(j) / 60 }
