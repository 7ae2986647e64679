package exposure

import "time"

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

// ShiftStep is the step in which the average of 8 h is kept.
const ShiftStep = shiftWidth * time.Second

// tally is the open end of a window.
type tally struct {
	Bin    int64   // number of the open bin since 1970
	Oldest uint8   // place of the oldest closed bin in the ring
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

// full reports whether micro lies beyond the open bin.
func (t *tally) full(micro, width int64) bool { return micro >= (t.Bin+1)*width*microPerSec }

// roll closes bins until micro (microseconds since 1970), which is beyond the
// open one, lies in the open one.
func (r ring) roll(micro int64) {
	w := r.width * microPerSec
	if micro-r.Bin*w > int64(len(r.dose)+1)*w { // everything kept has left the window
		r.clear()
		r.Bin = micro / w
		return
	}
	for micro >= (r.Bin+1)*w {
		r.close()
	}
}

func (r ring) close() {
	i := int(r.Oldest)
	r.Closed += float64(float32(r.Open)) - float64(r.dose[i])
	r.dose[i] = float32(r.Open)
	r.seen[i] = uint8(min(255*r.Seen/float32(r.width)+0.5, 255))
	r.Bin++
	r.Open, r.Seen = 0, 0
	if r.Oldest++; int(r.Oldest) == len(r.dose) {
		r.Oldest = 0
		r.Closed = sum(r.dose) // anew once a round, so that rounding never piles up
	}
}

func (r ring) clear() {
	clear(r.dose)
	clear(r.seen)
	r.Open, r.Seen, r.Closed, r.Oldest = 0, 0, 0, 0
}

// gone gives the share of the oldest bin that has left the window that ends
// at micro, an instant in the open bin or on its far edge.
func (t *tally) gone(micro, width int64) float64 {
	return float64(micro-t.Bin*width*microPerSec) * (1 / (microPerSec * float64(width)))
}

// within gives the dose of the window that ends at micro, ppm·s.
func (t *tally) within(micro int64, oldest float32, width int64) float64 {
	return max(t.Closed-t.gone(micro, width)*float64(oldest)+t.Open, 0)
}

// average gives the time-weighted average of the window that ends at micro,
// ppm.
func (w *shortWindow) average(micro int64) float64 {
	return w.Tally.within(micro, w.Dose[w.Tally.Oldest], shortWidth) * (1.0 / ShortSeconds)
}

func (w *shiftWindow) average(micro int64) float64 {
	return w.Tally.within(micro, w.Dose[w.Tally.Oldest], shiftWidth) * (1.0 / ShiftSeconds)
}

// coverage gives the measured share of the window, 0 to 1.
func (r ring) coverage(micro int64) float64 {
	n := 0
	for _, s := range r.seen {
		n += int(s)
	}
	whole := (float64(n) - r.gone(micro, r.width)*float64(r.seen[r.Oldest])) / 255
	return min((whole+float64(r.Seen)/float64(r.width))/float64(len(r.seen)), 1)
}

func sum(bins []float32) float64 {
	var s float64
	for _, b := range bins {
		s += float64(b)
	}
	return s
}
