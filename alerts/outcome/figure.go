package outcome

import "math"

// figureScale keeps four decimals: a hundredth of what the finest sensor or
// estimate behind these figures resolves (0.01 ppm, 0.01 °C, 0.01 %).
const figureScale = 1e4

// Figure rounds a concentration, temperature, percentage, ratio or length of
// time to four decimals. Sensors' figures are kept in 32 bits; without this
// 162.8 ppm would be written as 162.8000030517578. It is not for run-hours,
// whose bounds hold exactly, nor for what is compared with a limit: figures
// are compared first and rounded when they are written.
func Figure(v float64) float64 {
	if r := math.Round(v*figureScale) / figureScale; !math.IsInf(r, 0) {
		return r + 0 // no minus zero
	}
	return v
}

// Rounded gives the exposure as it is written.
func (e Exposure) Rounded() Exposure {
	for _, v := range []*float64{&e.PeakPPM, &e.TWA15PPM, &e.TWA8hPPM, &e.COHbPercent, &e.Coverage} {
		*v = Figure(*v)
	}
	if e.AirChangesPH != nil {
		v := Figure(*e.AirChangesPH)
		e.AirChangesPH = &v
	}
	return e
}
