package store

import (
	"encoding/binary"
	"errors"
	"math"

	"heaterd/ingest/reading"
)

// Samples in binary, format 1. Numbers are varints (encoding/binary), signed
// ones zigzag.
//
//	n                                   how many samples
//	unit                                of times: 1, 1e3 or 1e6 µs
//	first                               µs after the base the caller names
//	n-1 × change of step                in units; the step before the first is 0
//	runs of Has, runs of On             value, length, until n are told
//	Runtime, CO, Temp, Fuel, Battery    one column each, of the samples that carry it
//
// A column without samples takes no byte. Else it begins with its scale: 0 to 3
// decimals, then the differences of the values as integers; or 255, then each
// value's IEEE 754 bits exclusive-or the bits before. Scale is chosen so that
// every value comes back bit for bit.
const (
	formatOne = 1
	rawBits   = 255
	decimals  = 3
)

// errFormat is what a damaged or unknown body decodes to.
var errFormat = errors.New("samples are damaged or of an unknown format")

// battery is the set of quantities that share Sample.Battery.
const battery = reading.BatteryLevel | reading.BatteryVolts

// columns are the values in their order in the encoding.
var columns = []struct {
	has   reading.Quantity
	short bool // kept as float32
	get   func(*reading.Sample) float64
	set   func(*reading.Sample, float64)
}{
	{reading.Runtime, false, func(s *reading.Sample) float64 { return s.Runtime }, func(s *reading.Sample, v float64) { s.Runtime = v }},
	{reading.CO, true, func(s *reading.Sample) float64 { return float64(s.CO) }, func(s *reading.Sample, v float64) { s.CO = float32(v) }},
	{reading.Temp, true, func(s *reading.Sample) float64 { return float64(s.Temp) }, func(s *reading.Sample, v float64) { s.Temp = float32(v) }},
	{reading.Fuel, true, func(s *reading.Sample) float64 { return float64(s.Fuel) }, func(s *reading.Sample, v float64) { s.Fuel = float32(v) }},
	{battery, true, func(s *reading.Sample) float64 { return float64(s.Battery) }, func(s *reading.Sample, v float64) { s.Battery = float32(v) }},
}

// appendSamples encodes samples after dst.
func appendSamples(dst []byte, base reading.Instant, samples []reading.Sample) []byte {
	dst = binary.AppendUvarint(append(dst, formatOne), uint64(len(samples)))
	if len(samples) == 0 {
		return dst
	}
	dst = appendTimes(dst, base, samples)
	dst = appendRuns(dst, samples, func(s *reading.Sample) reading.Quantity { return s.Has })
	dst = appendRuns(dst, samples, func(s *reading.Sample) reading.Quantity { return s.On })
	values := make([]float64, 0, len(samples))
	for _, c := range columns {
		values = values[:0]
		for i := range samples {
			if samples[i].Has&c.has != 0 {
				values = append(values, c.get(&samples[i]))
			}
		}
		dst = appendColumn(dst, values, c.short)
	}
	return dst
}

func appendTimes(dst []byte, base reading.Instant, samples []reading.Sample) []byte {
	unit := timeUnit(samples)
	dst = binary.AppendUvarint(dst, uint64(unit))
	dst = binary.AppendVarint(dst, int64(samples[0].At-base))
	step := int64(0)
	for i := 1; i < len(samples); i++ {
		d := int64(samples[i].At-samples[i-1].At) / unit
		dst = binary.AppendVarint(dst, d-step)
		step = d
	}
	return dst
}

// timeUnit is the largest unit that divides every step, in µs.
func timeUnit(samples []reading.Sample) int64 {
	unit := int64(1e6)
	for i := 1; i < len(samples); i++ {
		for unit > 1 && int64(samples[i].At-samples[i-1].At)%unit != 0 {
			unit /= 1000
		}
	}
	return unit
}

func appendRuns(dst []byte, samples []reading.Sample, get func(*reading.Sample) reading.Quantity) []byte {
	for i := 0; i < len(samples); {
		j := i + 1
		for j < len(samples) && get(&samples[j]) == get(&samples[i]) {
			j++
		}
		dst = binary.AppendUvarint(dst, uint64(get(&samples[i])))
		dst = binary.AppendUvarint(dst, uint64(j-i))
		i = j
	}
	return dst
}

func appendColumn(dst []byte, values []float64, short bool) []byte {
	if len(values) == 0 {
		return dst
	}
	scale, ok := decimalScale(values, short)
	if !ok {
		return appendBits(append(dst, rawBits), values, short)
	}
	dst = append(dst, byte(scale))
	last := int64(0)
	for _, v := range values {
		n, _ := asDecimal(v, scale, short)
		dst = binary.AppendVarint(dst, n-last)
		last = n
	}
	return dst
}

func appendBits(dst []byte, values []float64, short bool) []byte {
	last := uint64(0)
	for _, v := range values {
		b := floatBits(v, short)
		dst = binary.AppendUvarint(dst, b^last)
		last = b
	}
	return dst
}

// decimalScale finds the fewest decimals that give back every value exactly.
func decimalScale(values []float64, short bool) (scale int, ok bool) {
	for _, v := range values {
		for {
			if _, exact := asDecimal(v, scale, short); exact {
				break
			}
			if scale++; scale > decimals {
				return 0, false
			}
		}
	}
	return scale, everyDecimal(values, scale, short)
}

func everyDecimal(values []float64, scale int, short bool) bool {
	for _, v := range values {
		if _, exact := asDecimal(v, scale, short); !exact {
			return false
		}
	}
	return true
}

var pow10 = [decimals + 1]float64{1, 10, 100, 1000}

// asDecimal gives v as a whole number of 10^-scale and whether fromDecimal
// gives v back bit for bit.
func asDecimal(v float64, scale int, short bool) (int64, bool) {
	n := math.Round(v * pow10[scale])
	if !(math.Abs(n) < 1<<53) { // beyond, not every integer is a float64; also catches NaN
		return 0, false
	}
	i := int64(n)
	return i, floatBits(fromDecimal(i, scale, short), short) == floatBits(v, short)
}

func fromDecimal(n int64, scale int, short bool) float64 {
	v := float64(n) / pow10[scale]
	if short {
		return float64(float32(v))
	}
	return v
}

func floatBits(v float64, short bool) uint64 {
	if short {
		return uint64(math.Float32bits(float32(v)))
	}
	return math.Float64bits(v)
}

func fromBits(b uint64, short bool) float64 {
	if short {
		return float64(math.Float32frombits(uint32(b)))
	}
	return math.Float64frombits(b)
}
