package senml

import (
	"math"
	"math/big"
	"slices"

	"github.com/fxamacker/cbor/v2"

	"heaterd/ingest/reading"
)

// decimalFraction is the CBOR tag of [exponent, mantissa] (RFC 8949 section
// 3.4.4), which RFC 8428 section 6 allows for numbers.
const decimalFraction = 4

// readCBOR feeds the records of a CBOR pack to res.
func readCBOR(body []byte, res *resolver) error {
	var pack []map[any]any
	if err := cborMode.Unmarshal(body, &pack); err != nil {
		return cborRefusal(err)
	}
	for _, fields := range pack {
		res.records++
		if err := addMap(fields, res); err != nil {
			return res.where(err)
		}
	}
	return nil
}

// cborMode keeps the limits of a pack while it is read.
var cborMode = func() cbor.DecMode {
	mode, err := cbor.DecOptions{
		DupMapKey:        cbor.DupMapKeyEnforcedAPF,
		MaxArrayElements: maxRecords,
		MaxMapPairs:      maxLabels,
		MaxNestedLevels:  maxDepth,
		IntDec:           cbor.IntDecConvertSignedOrBigInt,
		BigIntDec:        cbor.BigIntDecodePointer,
	}.DecMode()
	if err != nil {
		panic("BUG: " + err.Error())
	}
	return mode
}()

func cborRefusal(err error) error {
	switch err.(type) { //nolint:errorlint // the decoder gives these bare
	case *cbor.MaxArrayElementsError, *cbor.MaxMapPairsError, *cbor.MaxNestedLevelError:
		return reading.Refuse(reading.TooLarge, "%v", err)
	case *cbor.DupMapKeyError, *cbor.UnmarshalTypeError:
		return reading.Refuse(reading.BadField, "%v", err)
	}
	return reading.Refuse(reading.BadSyntax, "%v", err)
}

// addMap goes through the labels in their own order, not the map's, so that a
// record with two faults is always refused for the same one.
func addMap(fields map[any]any, res *resolver) error {
	var r record
	known := 0
	for i, l := range cborLabels {
		key := int64(i) + firstCBORLabel
		value, ok := fields[key]
		if !ok {
			continue
		}
		known++
		if err := r.setAny(l, key, value); err != nil {
			return err
		}
	}
	if r.unknown = known < len(fields); r.unknown {
		if err := mustUnderstandAll(fields); err != nil {
			return err
		}
	}
	return res.add(&r)
}

// mustUnderstandAll checks the labels that are text; the others are unknown
// and may be ignored.
func mustUnderstandAll(fields map[any]any) error {
	var labels []string
	for key := range fields {
		if text, ok := key.(string); ok {
			labels = append(labels, text)
		}
	}
	slices.Sort(labels)
	for _, text := range labels {
		if err := mustUnderstand([]byte(text)); err != nil {
			return err
		}
	}
	return nil
}

func (r *record) setAny(l label, key int64, value any) error {
	r.has |= l
	var err error
	if f := r.number(l); f != nil {
		err = setNumber(f, key, value)
	} else {
		err = r.setOther(l, key, value)
	}
	if err != nil && (l == labelV || l == labelVb) {
		r.spoilt, err = err, nil
	}
	return err
}

func (r *record) setOther(l label, key int64, value any) error {
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

func setNumber(to *float64, key int64, value any) error {
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

func wrongType(key int64, value any) error {
	return reading.Refuse(reading.BadField, "found a %T for label %d, which cannot be one", value, key)
}
