package shutdown_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// near checks a published value and logs it.
func near(t *testing.T, name, source string, want, got, within float64) {
	t.Helper()
	t.Logf("%s | %s | expected %v | got %v", name, source, want, got)
	if math.IsNaN(got) || math.Abs(got-want) > within {
		t.Errorf("%s: got %v, want %v ± %v", name, got, want, within)
	}
}

// handbook is the record of chapter 8: failures of one system observed to
// 1500 h.
func handbook() []shutdown.Fault {
	var out []shutdown.Fault
	for _, h := range []float64{5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478} {
		out = append(out, shutdown.Fault{At: reading.Instant(h * 3600e6), Hours: h})
	}
	return out
}

func TestPublishedTrend(t *testing.T) {
	const source = "NIST/SEMATECH e-Handbook ch. 8"
	o := shutdown.DefaultOptions()
	o.Confidence = 0.80
	o.ShortBurn = 0
	got, ok := shutdown.TrendOf(handbook(), 1500, &o)
	if !ok || got.Endings != 10 {
		t.Fatalf("%+v %v", got, ok)
	}
	near(t, "chi-square", source, 37.228, got.ChiSquare, 5e-3)
	near(t, "shape, bias-corrected", source, 0.483506, got.Shape, 1e-6)
	near(t, "scale", source, 0.2913003, got.Scale, 1e-6)
	near(t, "MTBF at 1500 h", source, 310.234, got.MTBFH, 1e-3)
	near(t, "MTBF, lower end of 80 %", source, 157.7138, got.LowH, 1e-3)
	near(t, "MTBF, upper end of 80 %", source, 548.5566, got.HighH, 2e-3)
	near(t, "Laplace z", "computed from the published formula", -1.32695, got.LaplaceZ, 1e-5)
	if !strings.Contains(got.Verdict, "disagree") || !strings.Contains(got.Verdict, "Laplace") {
		t.Errorf("verdict %q", got.Verdict)
	}
}

func TestPublishedConstantRate(t *testing.T) {
	const source = "NIST/SEMATECH e-Handbook apr451"
	low, high := shutdown.ConstantRate(800, 2, 0.90)
	near(t, "MTBF, lower end of 90 %, 2 failures in 800 h", source, 127.07, low, 0.01)
	near(t, "MTBF, upper end of 90 %, 2 failures in 800 h", source, 2251.2, high, 0.1)
	low, _ = shutdown.ConstantRate(1000, 0, 0.90)
	near(t, "MTBF, lower bound, no failures in 1000 h", source+", T/(−ln α)", 434.2945, low, 1e-3)
}

func TestPublishedRayleigh(t *testing.T) {
	const source = "Zar, Biostatistical Analysis, example 27.1"
	var a []float64
	for _, d := range []float64{45, 55, 81, 96, 110, 117, 132, 154} {
		a = append(a, d*math.Pi/180)
	}
	r, mean, p := shutdown.Rayleigh(a)
	near(t, "r", source, 0.82522, r, 1e-5)
	near(t, "z = nr²", source, 5.448, 8*r*r, 1e-3)
	near(t, "p", source, 0.00185, p, 1e-5)
	near(t, "mean direction", source+" (99°)", 99, mean*180/math.Pi, 0.5)
}

func TestTrendNeedsSeparateEndings(t *testing.T) {
	o := shutdown.DefaultOptions()
	at := reading.Instant(1_768_000_000_000_000)
	fault := func(min, h float64) shutdown.Fault {
		return shutdown.Fault{At: at.Add(time.Duration(min * float64(time.Minute))), Hours: h}
	}
	retries := []shutdown.Fault{fault(0, 10), fault(3, 10.02), fault(6, 10.04), fault(9, 10.06), fault(3000, 40)}
	if got, ok := shutdown.TrendOf(retries, 100, &o); !ok || got.Endings != 5 || got.Verdict != "too few to tell: 5 endings, retries counted, are 2 shutdowns" {
		t.Errorf("a trend from two shutdowns: %+v", got)
	}
	if got, ok := shutdown.TrendOf(retries[2:], 100, &o); ok {
		t.Errorf("a trend from three endings: %+v", got)
	}
	worse := []shutdown.Fault{fault(0, 60), fault(1000, 80), fault(2000, 90), fault(2500, 95), fault(2700, 98), fault(2800, 99.5)}
	got, ok := shutdown.TrendOf(worse, 100, &o)
	if !ok || got.LaplaceZ < 2 || got.Shape < 1 || !strings.Contains(got.Verdict, "more as it runs on") {
		t.Errorf("%+v", got)
	}
	if got.LowH > got.MTBFH || got.HighH < got.MTBFH || got.LowH <= 0 {
		t.Errorf("interval %v … %v around %v", got.LowH, got.HighH, got.MTBFH)
	}
	if _, ok := shutdown.TrendOf([]shutdown.Fault{fault(0, 0), fault(100, 0), fault(200, 0), fault(300, 0)}, 0, &o); ok {
		t.Error("a trend over no hours")
	}
}
