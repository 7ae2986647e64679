package senml

import (
	"math"
	"math/big"

	"github.com/fxamacker/cbor/v2"

	"heaterd/ingest/reading"
)

// The least limits the CBOR decoder can be told.
const (
	leastArray   = 16
	leastNesting = 4
)

// decimalFraction is the CBOR tag of [exponent, mantissa] (RFC 8949 section
// 3.4.4), which RFC 8428 section 6 allows for numbers.
const decimalFraction = 4

// readCBOR feeds the records of a CBOR pack to res.
func readCBOR(body []byte, opt Options, res *resolver) error {
	mode, err := cborMode(opt)
	if err != nil {
		return refuse(reading.TooLarge, "limits that cannot be kept: %v", err)
	}
	var pack []map[any]any
	if err := mode.Unmarshal(body, &pack); err != nil {
		return cborRefusal(err)
	}
	if len(pack) > opt.MaxRecords {
		return tooManyRecords(len(pack), opt.MaxRecords)
	}
	for _, fields := range pack {
		res.records++
		if err := addMap(fields, res); err != nil {
			return res.where(err)
		}
	}
	return nil
}

func cborMode(opt Options) (cbor.DecMode, error) {
	return cbor.DecOptions{
		DupMapKey:        cbor.DupMapKeyEnforcedAPF,
		MaxArrayElements: max(opt.MaxRecords, leastArray),
		MaxMapPairs:      maxLabels,
		MaxNestedLevels:  max(opt.MaxDepth, leastNesting),
		IntDec:           cbor.IntDecConvertSignedOrBigInt,
		BigIntDec:        cbor.BigIntDecodePointer,
	}.DecMode()
}

func cborRefusal(err error) error {
	switch err.(type) { //nolint:errorlint // the decoder gives these bare
	case *cbor.MaxArrayElementsError, *cbor.MaxMapPairsError, *cbor.MaxNestedLevelError:
		return refuse(reading.TooLarge, "%v", err)
	case *cbor.DupMapKeyError, *cbor.UnmarshalTypeError:
		return refuse(reading.BadField, "%v", err)
	}
	return refuse(reading.BadSyntax, "%v", err)
}

func addMap(fields map[any]any, res *resolver) error {
	var r record
	for key, value := range fields {
		if err := r.setAny(key, value); err != nil {
			return err
		}
	}
	return res.add(&r)
}

// setAny stores one CBOR field. The order of fields does not show: each goes to
// its own place.
func (r *record) setAny(key, value any) error {
	var l label
	switch k := key.(type) {
	case int64:
		l = cborLabel(k)
	case string:
		if err := mustUnderstand([]byte(k)); err != nil {
			return err
		}
	}
	if l == 0 {
		r.unknown = true
		return nil
	}
	r.has |= l
	if f := r.number(l); f != nil {
		return setNumber(f, key, value)
	}
	return r.setOther(l, key, value)
}

func (r *record) setOther(l label, key, value any) error {
	ok := false
	switch v := value.(type) {
	case string:
		if b := r.text(l); b != nil {
			*b = []byte(v)
			return nil
		}
		ok = l == labelVs
	case bool:
		r.vb = v
		ok = l == labelVb
	case []byte:
		ok = l == labelVd
	}
	if !ok {
		return wrongType(key, value)
	}
	return nil
}

func setNumber(to *float64, key, value any) error {
	f, ok := number(value)
	if !ok {
		return wrongType(key, value)
	}
	*to = f
	return nil
}

func number(value any) (float64, bool) {
	switch v := value.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, true
	case *big.Int:
		f, _ := new(big.Float).SetInt(v).Float64()
		return f, true
	case cbor.Tag:
		return fraction(v)
	}
	return 0, false
}

func fraction(tag cbor.Tag) (float64, bool) {
	parts, ok := tag.Content.([]any)
	if tag.Number != decimalFraction || !ok || len(parts) != 2 {
		return 0, false
	}
	exponent, ok1 := parts[0].(int64)
	mantissa, ok2 := parts[1].(int64)
	if !ok1 || !ok2 || exponent < -400 || exponent > 400 { // float64 ends at 1e-324 and 1e308
		return 0, false
	}
	if exponent < 0 {
		return float64(mantissa) / math.Pow10(int(-exponent)), true
	}
	return float64(mantissa) * math.Pow10(int(exponent)), true
}

func wrongType(key, value any) error {
	return refuse(reading.BadField, "found a %T for label %v, which cannot be one", value, key)
}
