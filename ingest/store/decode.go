package store

import (
	"encoding/binary"

	"heaterd/ingest/reading"
)

// cursor reads a body; after a fault it gives zeros and keeps the fault.
type cursor struct {
	b   []byte
	err error
}

func (c *cursor) fail() { c.b, c.err = nil, errFormat }

func (c *cursor) byte() byte {
	if len(c.b) == 0 {
		c.fail()
		return 0
	}
	v := c.b[0]
	c.b = c.b[1:]
	return v
}

func (c *cursor) uvarint() uint64 {
	v, n := binary.Uvarint(c.b)
	if n <= 0 {
		c.fail()
		return 0
	}
	c.b = c.b[n:]
	return v
}

func (c *cursor) varint() int64 {
	v, n := binary.Varint(c.b)
	if n <= 0 {
		c.fail()
		return 0
	}
	c.b = c.b[n:]
	return v
}

// samples decodes what appendSamples wrote and appends it to dst.
func (c *cursor) samples(dst []reading.Sample, base reading.Instant) []reading.Sample {
	if c.byte() != formatOne {
		c.fail()
		return dst
	}
	n := c.uvarint()
	if n == 0 || n > uint64(len(c.b))+1 { // a sample after the first takes at least a byte
		if n != 0 {
			c.fail()
		}
		return dst
	}
	start := len(dst)
	dst = append(dst, make([]reading.Sample, n)...)
	fresh := dst[start:]
	c.times(fresh, base)
	c.runs(fresh, func(s *reading.Sample, q reading.Quantity) { s.Has = q })
	c.runs(fresh, func(s *reading.Sample, q reading.Quantity) { s.On = q })
	c.columns(fresh)
	if c.err != nil {
		return dst[:start]
	}
	return dst
}

func (c *cursor) times(samples []reading.Sample, base reading.Instant) {
	unit := int64(c.uvarint())
	at := base + reading.Instant(c.varint())
	samples[0].At = at
	step := int64(0)
	for i := 1; i < len(samples); i++ {
		step += c.varint()
		at += reading.Instant(step * unit)
		samples[i].At = at
	}
}

func (c *cursor) runs(samples []reading.Sample, set func(*reading.Sample, reading.Quantity)) {
	for i := 0; i < len(samples) && c.err == nil; {
		q := reading.Quantity(c.uvarint())
		n := c.uvarint()
		if n == 0 || n > uint64(len(samples)-i) {
			c.fail()
			return
		}
		for end := i + int(n); i < end; i++ {
			set(&samples[i], q)
		}
	}
}

func (c *cursor) columns(samples []reading.Sample) {
	for _, col := range columns {
		var next func() float64
		for i := range samples {
			if samples[i].Has&col.has == 0 {
				continue
			}
			if next == nil {
				next = c.column(col.short)
			}
			col.set(&samples[i], next())
		}
	}
}

// column reads a column's scale and gives the function that reads its values.
func (c *cursor) column(short bool) func() float64 {
	scale := c.byte()
	if scale == rawBits {
		bits := uint64(0)
		return func() float64 { bits ^= c.uvarint(); return fromBits(bits, short) }
	}
	if scale > decimals {
		c.fail()
		scale = 0
	}
	n := int64(0)
	return func() float64 { n += c.varint(); return fromDecimal(n, int(scale), short) }
}
