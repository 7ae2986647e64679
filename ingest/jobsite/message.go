package jobsite

import (
	"strconv"
	"time"

	"github.com/fxamacker/cbor/v2"

	"heaterd/ingest/reading"
)

// Message is one MQTT message of a node: telemetry, or its status where
// Status is set.
type Message struct {
	Site    string
	Node    string
	At      reading.Instant  // true instant of publishing
	Samples []reading.Sample // ascending, measured by the node's clock
	Within  time.Duration    // longest time to the next sample (SenML ut)
	Status  string           // online or offline, retained; no samples then
}

// Topic gives the default topic.
func (m Message) Topic() string {
	if m.Status != "" {
		return "sites/" + m.Site + "/nodes/" + m.Node + "/status"
	}
	return "sites/" + m.Site + "/nodes/" + m.Node + "/telemetry"
}

// Payload gives the bytes to publish: the status, or the SenML JSON pack.
func (m Message) Payload() []byte {
	if m.Status != "" {
		return []byte(m.Status)
	}
	return m.SenML()
}

// senmlVersion says that units beyond the first registry are used, which ppm
// is: 10 plus feature code 4, Secondary Units, as 2^4 (RFC 9100, RFC 8798).
const senmlVersion = 26

// SenML gives the samples as a SenML pack in JSON (RFC 8428).
func (m Message) SenML() []byte {
	b := append(make([]byte, 0, 64+220*len(m.Samples)), '[')
	for i, s := range m.Samples {
		if i > 0 {
			b = append(b, ',')
		}
		b = m.appendSample(b, i, s)
	}
	return append(b, ']')
}

func (m Message) appendSample(b []byte, i int, s reading.Sample) []byte {
	j := jsonRecords{b: b, t: s.At - m.Samples[0].At}
	j.b = append(j.b, '{')
	if i == 0 {
		j.b = strconv.AppendQuote(append(j.b, `"bn":`...), m.Node+"/")
		j.b = appendMicros(append(j.b, `,"bt":`...), int64(s.At))
		j.b = strconv.AppendInt(append(j.b, `,"bver":`...), senmlVersion, 10)
		j.b = append(j.b, ',')
	}
	j.within = m.Within
	walk(s, &j)
	return append(j.b, '}')
}

// recorder takes the quantities of a sample one by one.
type recorder interface {
	number(name, unit string, v float64, bits int)
	truth(name string, on bool)
}

// walk hands over the quantities that the sample carries, in a fixed order.
func walk(s reading.Sample, r recorder) {
	bools := func(q reading.Quantity, name string) {
		if s.Carries(q) {
			r.truth(name, s.On&q != 0)
		}
	}
	numbers := func(q reading.Quantity, name, unit string, v float64, bits int) {
		if s.Carries(q) {
			r.number(name, unit, v, bits)
		}
	}
	bools(reading.Flame, "flame")
	numbers(reading.Runtime, "runtime", "s", s.Runtime, 64)
	numbers(reading.CO, "co", "ppm", float64(s.CO), 32)
	numbers(reading.Temp, "temp", "Cel", float64(s.Temp), 32)
	bools(reading.Supply, "supply")
	bools(reading.Call, "call")
	numbers(reading.Fuel, "fuel", "/", float64(s.Fuel), 32)
	numbers(reading.BatteryLevel, "battery", "%EL", float64(s.Battery)*100, 32)
	numbers(reading.BatteryVolts, "battery", "V", float64(s.Battery), 32)
}

// jsonRecords writes records as JSON objects; the first is already open.
type jsonRecords struct {
	b      []byte
	t      reading.Instant // after the base time
	within time.Duration   // for the first record
	more   bool
}

func (j *jsonRecords) open(name string) {
	if j.more {
		j.b = append(j.b, `},{`...)
	}
	j.b = append(append(append(j.b, `"n":"`...), name...), '"')
	if j.t != 0 {
		j.b = appendMicros(append(j.b, `,"t":`...), int64(j.t))
	}
	if !j.more && j.within > 0 {
		j.b = appendMicros(append(j.b, `,"ut":`...), j.within.Microseconds())
	}
	j.more = true
}

func (j *jsonRecords) number(name, unit string, v float64, bits int) {
	j.open(name)
	j.b = append(append(append(j.b, `,"u":"`...), unit...), `","v":`...)
	j.b = strconv.AppendFloat(j.b, v, 'f', -1, bits)
}

func (j *jsonRecords) truth(name string, on bool) {
	j.open(name)
	j.b = strconv.AppendBool(append(j.b, `,"vb":`...), on)
}

// appendMicros writes microseconds as decimal seconds without loss.
func appendMicros(b []byte, us int64) []byte {
	if us < 0 {
		b, us = append(b, '-'), -us
	}
	b = strconv.AppendInt(b, us/1e6, 10)
	part := us % 1e6
	if part == 0 {
		return b
	}
	b = append(b, '.')
	for unit := int64(1e5); part > 0; unit /= 10 {
		b = append(b, byte('0'+part/unit))
		part %= unit
	}
	return b
}

// cborRecord is a SenML record with the integer labels of RFC 8428 table 6.
type cborRecord struct {
	BaseVersion int      `cbor:"-1,keyasint,omitempty"`
	BaseName    string   `cbor:"-2,keyasint,omitempty"`
	BaseTime    float64  `cbor:"-3,keyasint,omitempty"`
	Name        string   `cbor:"0,keyasint"`
	Unit        string   `cbor:"1,keyasint,omitempty"`
	Value       *float64 `cbor:"2,keyasint,omitempty"`
	Bool        *bool    `cbor:"4,keyasint,omitempty"`
	Time        float64  `cbor:"6,keyasint,omitempty"`
	Within      float64  `cbor:"7,keyasint,omitempty"`
}

type cborRecords struct {
	rs     []cborRecord
	t      float64
	within float64
}

func (c *cborRecords) add(r cborRecord) {
	r.Time, r.Within = c.t, c.within
	c.within = 0
	c.rs = append(c.rs, r)
}

func (c *cborRecords) number(name, unit string, v float64, _ int) {
	c.add(cborRecord{Name: name, Unit: unit, Value: &v})
}

func (c *cborRecords) truth(name string, on bool) { c.add(cborRecord{Name: name, Bool: &on}) }

// SenMLCBOR gives the samples as a SenML pack in CBOR.
func (m Message) SenMLCBOR() []byte {
	var c cborRecords
	for _, s := range m.Samples {
		c.t, c.within = s.At.Seconds(m.Samples[0].At), m.Within.Seconds()
		walk(s, &c)
	}
	if len(c.rs) > 0 {
		first := &c.rs[0]
		first.BaseVersion, first.BaseName = senmlVersion, m.Node+"/"
		first.BaseTime = float64(m.Samples[0].At) / 1e6
	}
	b, err := cbor.Marshal(c.rs)
	if err != nil {
		panic("BUG: cannot encode own records: " + err.Error())
	}
	return b
}
