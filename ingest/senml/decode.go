package senml

import (
	"cmp"
	"errors"
	"slices"
	"strconv"

	"heaterd/ingest/reading"
)

// Decode reads one pack. Every error is a *reading.Refusal and comes with a
// zero Pack; a Pack has at least one sample, ascending, every value finite
// and in range. Times are UTC and lie from 1978 to 2100.
func Decode(body []byte, opt Options) (reading.Pack, error) {
	res := resolver{opt: opt}
	if err := res.read(body); err != nil {
		return reading.Pack{}, err
	}
	return res.pack()
}

func (res *resolver) read(body []byte) error {
	if len(body) > maxBytes {
		return reading.Refuse(reading.TooLarge, "found %d bytes, allowed: %d", len(body), maxBytes)
	}
	switch first := firstByte(body); {
	case first == '[':
		return readJSON(body, res)
	case len(body) > 0 && body[0]>>5 == cborArray:
		return readCBOR(body, res)
	case len(body) == 0:
		return reading.Refuse(reading.BadSyntax, "found an empty message, allowed: a JSON or CBOR array")
	default:
		return reading.Refuse(reading.BadSyntax, "found %q first, allowed: a JSON or CBOR array", first)
	}
}

// cborArray is the major type of arrays (RFC 8949 section 3.1).
const cborArray = 4

func firstByte(body []byte) byte {
	for _, c := range body {
		if c != ' ' && c != '\t' && c != '\n' && c != '\r' {
			return c
		}
	}
	return 0
}

// ascending sorts by instant and joins samples of the same.
func ascending(samples []reading.Sample) []reading.Sample {
	if ascend(samples) {
		return samples
	}
	slices.SortStableFunc(samples, func(a, b reading.Sample) int { return cmp.Compare(a.At, b.At) })
	out := samples[:1]
	for _, s := range samples[1:] {
		if last := &out[len(out)-1]; last.At == s.At {
			*last = last.Merge(s)
		} else {
			out = append(out, s)
		}
	}
	return out
}

// ascend reports whether samples are in order, and none of the instant of another.
func ascend(samples []reading.Sample) bool {
	for i := 1; i < len(samples); i++ {
		if samples[i].At <= samples[i-1].At {
			return false
		}
	}
	return true
}

// where says in which record err happened.
func (res *resolver) where(err error) error {
	r, ok := errors.AsType[*reading.Refusal](err)
	if !ok {
		return err
	}
	at := *r
	at.Where = "record " + strconv.Itoa(max(res.records, 1))
	if r.Where != "" {
		at.Where += ", " + r.Where
	}
	return &at
}
