package exposure

// A sliding average is kept as a ring of closed bins aligned to the clock
// and one open bin. At a bin's edge the window is whole bins and the average
// is exact; between edges the part of the oldest bin that has left is taken
// as evenly spread. With these widths the error stays under 0.5 % of the
// largest concentration that the oldest bin held.
const (
	shortBins   = 60  // bins in 15 minutes
	shortWidth  = 15  // s
	shiftBins   = 96  // bins in 8 hours
	shiftWidth  = 300 // s
	microPerSec = 1_000_000
)

// ShortSeconds and ShiftSeconds are the windows of the two averages, s: the
// reference periods of the limits (15 min in EH40 and Directive 2017/164,
// 8 h in 29 CFR 1910.1000(d)). They are the divisor however short the record
// is: time outside it counts as no exposure.
const (
	ShortSeconds = shortBins * shortWidth
	ShiftSeconds = shiftBins * shiftWidth
)

// tally is the open end of a window.
type tally struct {
	Bin    int64   // number of the open bin since 1970
	Open   float64 // dose in the open bin, ppm·s
	Seen   float32 // measured time in the open bin, s
	Closed float64 // dose in the closed bins of the window, ppm·s
}

// window is a tally with its ring. The two sizes share the code below.
type shortWindow struct {
	Tally tally
	Dose  [shortBins]float32 // ppm·s in each closed bin
	Seen  [shortBins]uint8   // measured share of each closed bin, 255 is all
}

type shiftWindow struct {
	Tally tally
	Dose  [shiftBins]float32
	Seen  [shiftBins]uint8
}

// ring gives the shared code its view of one window.
type ring struct {
	*tally
	dose  []float32
	seen  []uint8
	width int64 // s
}

func (w *shortWindow) ring() ring { return ring{&w.Tally, w.Dose[:], w.Seen[:], shortWidth} }
func (w *shiftWindow) ring() ring { return ring{&w.Tally, w.Dose[:], w.Seen[:], shiftWidth} }

// add puts dose and measured time into the open bin.
func (t *tally) add(dose, seen float64) {
	t.Open += dose
	t.Seen += float32(seen)
}

// roll closes bins until micro (microseconds since 1970) lies in the open one.
func (r ring) roll(micro int64) {
	to := micro / (r.width * microPerSec)
	if to-r.Bin > int64(len(r.dose)) { // everything kept has left the window
		r.clear()
		r.Bin = to
		return
	}
	for r.Bin < to {
		r.close()
	}
}

func (r ring) close() {
	i := int(r.Bin % int64(len(r.dose)))
	r.Closed += float64(float32(r.Open)) - float64(r.dose[i])
	r.dose[i] = float32(r.Open)
	r.seen[i] = uint8(min(255*float64(r.Seen)/float64(r.width)+0.5, 255))
	r.Bin++
	r.Open, r.Seen = 0, 0
	if i == 0 { // sum anew once a round, so that rounding never piles up
		r.Closed = sum(r.dose)
	}
}

func (r ring) clear() {
	clear(r.dose)
	clear(r.seen)
	r.Open, r.Seen, r.Closed = 0, 0, 0
}

// average gives the time-weighted average of the window that ends at micro,
// ppm. Micro lies in the open bin or on its far edge.
func (r ring) average(micro int64) float64 {
	w := r.width * microPerSec
	gone := float64(micro-r.Bin*w) / float64(w)
	oldest := r.dose[r.Bin%int64(len(r.dose))]
	dose := r.Closed - gone*float64(oldest) + r.Open
	return max(dose, 0) / float64(r.width*int64(len(r.dose)))
}

// coverage gives the measured share of the window, 0 to 1.
func (r ring) coverage(micro int64) float64 {
	w := r.width * microPerSec
	gone := float64(micro-r.Bin*w) / float64(w)
	n := 0
	for _, s := range r.seen {
		n += int(s)
	}
	whole := (float64(n) - gone*float64(r.seen[r.Bin%int64(len(r.seen))])) / 255
	return min((whole+float64(r.Seen)/float64(r.width))/float64(len(r.seen)), 1)
}

func sum(bins []float32) float64 {
	var s float64
	for _, b := range bins {
		s += float64(b)
	}
	return s
}
