package shutdown

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"heaterd/ingest/reading"
)

// Fault is an unexplained ending, by when it was and how long the burner had
// run.
type Fault struct {
	At    reading.Instant
	Hours float64 // burner hours since the record began
}

// Trend is how a heater's unexplained endings lie over its burner hours.
type Trend struct {
	Endings     int     // separate ones: retries of one shutdown counted once, if that leaves enough
	Hours       float64 // h observed
	LaplaceZ    float64 // below 0 fewer lately, above 0 more
	LaplaceP    float64 // two-sided
	ChiSquare   float64 // 2·Σln(T/t), 2·Endings degrees of freedom
	ChiP        float64 // two-sided
	Shape       float64 // bias-corrected power law; 1 no trend, above 1 getting worse
	Scale       float64 // expected endings by T are Scale·T^Shape
	MTBFH       float64 // h between endings, now
	LowH, HighH float64 // its interval
	Verdict     string
}

// TrendOf finds the trend of the faults of a heater over hours of burner
// time; not ok with too few of them. A heater that hardly does anything but
// try again has too few separate ones: there every try counts in the figures,
// and the verdict is that they tell no trend. The formulas are those of the
// NIST/SEMATECH e-Handbook of Statistical Methods, chapter 8, for a record
// cut off at a time.
func TrendOf(faults []Fault, hours float64, o *Options) (Trend, bool) {
	least := max(o.TrendFrom, 2)
	t := separate(faults, o)
	apart := len(t)
	if apart < least {
		t = every(faults)
	}
	if len(t) < least {
		return Trend{}, false
	}
	hours = max(hours, t[len(t)-1])
	out := Trend{Endings: len(t), Hours: hours}
	n := float64(len(t))
	var sum, logs float64
	for _, ti := range t {
		ti = max(ti, hours*1e-9) // an ending at the very start
		sum += ti
		logs += math.Log(hours / ti)
	}
	if hours <= 0 || logs == 0 {
		return Trend{}, false
	}
	out.LaplaceZ = (sum/n - hours/2) / (hours * math.Sqrt(1/(12*n)))
	out.LaplaceP = 2 * distuv.UnitNormal.Survival(math.Abs(out.LaplaceZ))
	out.ChiSquare = 2 * logs
	chi := distuv.ChiSquared{K: 2 * n}
	out.ChiP = 2 * min(chi.CDF(out.ChiSquare), chi.Survival(out.ChiSquare))
	out.Shape = (n - 1) / logs
	out.Scale = n / math.Pow(hours, out.Shape)
	out.MTBFH = hours / (n * out.Shape)
	low, high := powerLawFactors(n, o.Confidence)
	out.LowH, out.HighH = low*out.MTBFH, high*out.MTBFH
	out.Verdict = out.words(o)
	if apart < least {
		out.Verdict = fmt.Sprintf("too few to tell: %d endings, retries counted, are %d shutdowns", len(t), apart)
	}
	return out, true
}

// powerLawFactors bounds the mean time between failures of a power law at the
// end of a record cut off at a time, as factors of its estimate (same source).
func powerLawFactors(n, confidence float64) (low, high float64) {
	z := distuv.UnitNormal.Quantile((1 + confidence) / 2)
	up := n + z*z/4 + math.Sqrt(n*z*z/2+math.Pow(z, 4)/16)
	down := max(n-z*math.Sqrt(n/2), 1e-3*n)
	return n * (n - 1) / (up * up), n * (n - 1) / (down * down)
}

// separate gives the burner hours of the endings in order, retries of one
// shutdown counted once: close in time, or with hardly any burning between.
func separate(faults []Fault, o *Options) []float64 {
	sorted := slices.Clone(faults)
	slices.SortStableFunc(sorted, func(a, b Fault) int { return cmp.Compare(a.At, b.At) })
	var out []float64
	for i, f := range sorted {
		if i > 0 {
			before := sorted[i-1]
			if f.At.Sub(before.At) <= o.RetryWithin || f.Hours-before.Hours < o.ShortBurn.Hours() {
				continue
			}
		}
		out = append(out, f.Hours)
	}
	slices.Sort(out)
	return out
}

// every gives the burner hours of all endings in order.
func every(faults []Fault) []float64 {
	out := make([]float64, len(faults))
	for i, f := range faults {
		out[i] = f.Hours
	}
	slices.Sort(out)
	return out
}

const (
	improving = "fewer as it runs on"
	worsening = "more as it runs on"
	noTrend   = "no trend"
)

func (t *Trend) words(o *Options) string {
	laplace := direction(t.LaplaceP, t.LaplaceZ > 0, o)
	chi := direction(t.ChiP, t.ChiSquare < 2*float64(t.Endings), o)
	out := fmt.Sprintf("Laplace test: %s (z %.2f, p %.3f); chi-square test of a power law: %s (%.1f on %d degrees, p %.3f)",
		laplace, t.LaplaceZ, t.LaplaceP, chi, t.ChiSquare, 2*t.Endings, t.ChiP)
	if laplace != chi {
		out += "; the tests disagree"
	}
	if t.Endings < 6 {
		out += "; few endings, weak evidence"
	}
	return out
}

func direction(p float64, more bool, o *Options) string {
	switch {
	case p >= o.TrendP:
		return noTrend
	case more:
		return worsening
	}
	return improving
}

// ConstantRate bounds the mean time between failures of a heater whose rate
// does not change: n failures in hours, a record cut off at a time, at a
// two-sided confidence; without failures only from below, one-sided
// (NIST/SEMATECH e-Handbook, section apr451).
func ConstantRate(hours float64, n int, confidence float64) (low, high float64) {
	alpha := 1 - confidence
	if n == 0 {
		return hours / -math.Log(alpha), math.Inf(1)
	}
	low = 2 * hours / distuv.ChiSquared{K: float64(2 * (n + 1))}.Quantile(1-alpha/2)
	high = 2 * hours / distuv.ChiSquared{K: float64(2 * n)}.Quantile(alpha/2)
	return low, high
}
