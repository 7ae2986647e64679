package senml

import (
	"strconv"

	"heaterd/ingest/reading"
)

// encode writes pack as SenML JSON that Decode reads back the same. A node
// whose name SenML does not allow is left out; its topic must tell it.
func encode(pack reading.Pack) []byte {
	e := encoder{out: []byte{'['}}
	e.head(pack)
	for _, s := range pack.Samples {
		e.sample(s)
	}
	return append(e.out, ']')
}

type encoder struct {
	out   []byte
	begin reading.Instant
	base  string // fields of the first record, until it is written
}

// head prepares the base fields. The version lets "ppm" be lawful.
func (e *encoder) head(pack reading.Pack) {
	base := []byte(`"bver":` + strconv.Itoa(secondaryUnits))
	if res := (resolver{}); pack.Node != "" {
		if _, err := res.join([]byte(pack.Node)); err == nil {
			base = append(base, `,"bn":"`+string(pack.Node)+`/"`...)
		}
	}
	if len(pack.Samples) > 0 {
		e.begin = pack.Samples[0].At
		base = append(base, `,"bt":`...)
		base = appendMicros(base, int64(e.begin))
	}
	if pack.Within > 0 {
		base = append(base, `,"ut":`...)
		base = appendMicros(base, pack.Within.Microseconds())
	}
	e.base = string(base)
}

func (e *encoder) sample(s reading.Sample) {
	e.onOff(s, "flame", reading.Flame)
	e.number(s, "runtime", "s", reading.Runtime, s.Runtime, 64)
	e.number(s, "co", "ppm", reading.CO, float64(s.CO), 32)
	e.number(s, "temp", "Cel", reading.Temp, float64(s.Temp), 32)
	e.onOff(s, "supply", reading.Supply)
	e.onOff(s, "call", reading.Call)
	e.number(s, "fuel", "/", reading.Fuel, float64(s.Fuel), 32)
	e.number(s, "battery", "/", reading.BatteryLevel, float64(s.Battery), 32)
	e.number(s, "battery", "V", reading.BatteryVolts, float64(s.Battery), 32)
}

func (e *encoder) onOff(s reading.Sample, name string, q reading.Quantity) {
	if !s.Carries(q) {
		return
	}
	e.open(s, name)
	e.out = append(e.out, `,"vb":`...)
	e.out = strconv.AppendBool(e.out, s.On&q != 0)
	e.out = append(e.out, '}')
}

func (e *encoder) number(s reading.Sample, name, unit string, q reading.Quantity, v float64, bits int) {
	if !s.Carries(q) {
		return
	}
	e.open(s, name)
	e.out = append(e.out, `,"u":"`+unit+`","v":`...)
	e.out = strconv.AppendFloat(e.out, v, 'g', -1, bits)
	e.out = append(e.out, '}')
}

func (e *encoder) open(s reading.Sample, name string) {
	if len(e.out) > 1 {
		e.out = append(e.out, ',')
	}
	e.out = append(e.out, '{')
	if e.base != "" {
		e.out = append(append(e.out, e.base...), ',')
		e.base = ""
	}
	e.out = append(e.out, `"n":"`+name+`"`...)
	if s.At != e.begin {
		e.out = append(e.out, `,"t":`...)
		e.out = appendMicros(e.out, int64(s.At-e.begin))
	}
}

// appendMicros writes microseconds as decimal seconds, without rounding.
func appendMicros(out []byte, us int64) []byte {
	if us < 0 {
		out, us = append(out, '-'), -us
	}
	out = strconv.AppendInt(out, us/1e6, 10)
	if us%1e6 == 0 {
		return out
	}
	digits := strconv.Itoa(int(us%1e6) + 1e6)
	return append(append(out, '.'), digits[1:]...)
}
