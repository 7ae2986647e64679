package senml

// label is one field of a record, as a bit.
type label uint32

const (
	labelBver label = 1 << iota
	labelBn
	labelBt
	labelBu
	labelBv
	labelBs
	labelN
	labelU
	labelV
	labelVs
	labelVb
	labelS
	labelT
	labelUt
	labelVd

	baseLabels  = labelBver | labelBn | labelBt | labelBu | labelBv | labelBs
	valueLabels = labelV | labelVs | labelVb | labelVd
)

// record is one record as sent; has tells which fields mean anything.
type record struct {
	has     label
	unknown bool  // held a label that is passed over
	spoilt  error // why its value cannot be one; nil: it can
	vb      bool
	bn, n   []byte
	bu, u   []byte
	bver    float64
	bt, t   float64 // s
	bv, v   float64
	bs, s   float64
	ut      float64 // s
}

// labelOf finds a JSON label (RFC 8428 table 1); 0 if it is unknown.
func labelOf(name []byte) label {
	switch string(name) {
	case "n":
		return labelN
	case "u":
		return labelU
	case "v":
		return labelV
	case "vb":
		return labelVb
	case "t":
		return labelT
	case "bn":
		return labelBn
	case "bt":
		return labelBt
	case "bu":
		return labelBu
	case "bver":
		return labelBver
	case "ut":
		return labelUt
	case "vs":
		return labelVs
	case "s":
		return labelS
	case "vd":
		return labelVd
	case "bv":
		return labelBv
	case "bs":
		return labelBs
	}
	return 0
}

// firstCBORLabel is the least of cborLabels.
const firstCBORLabel = -6

// cborLabels are the integer labels in their order (RFC 8428 table 4, which says
// that no other integers will come).
var cborLabels = [...]label{
	labelBs, labelBv, labelBu, labelBt, labelBn, labelBver,
	labelN, labelU, labelV, labelVs, labelVb, labelS, labelT, labelUt, labelVd,
}

// number is where the number of l belongs; nil if l is no number.
func (r *record) number(l label) *float64 {
	switch l {
	case labelV:
		return &r.v
	case labelT:
		return &r.t
	case labelBt:
		return &r.bt
	case labelUt:
		return &r.ut
	case labelBver:
		return &r.bver
	case labelS:
		return &r.s
	case labelBv:
		return &r.bv
	case labelBs:
		return &r.bs
	}
	return nil
}

// text is where the text of l belongs; nil if l is no text that is kept.
func (r *record) text(l label) *[]byte {
	switch l {
	case labelN:
		return &r.n
	case labelU:
		return &r.u
	case labelBn:
		return &r.bn
	case labelBu:
		return &r.bu
	}
	return nil
}
