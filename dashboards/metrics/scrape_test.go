package metrics_test

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	dto "github.com/prometheus/client_model/go"

	"heaterd/dashboards/metrics"
	"heaterd/dashboards/metrics/metricstest"
)

// many is the fleet for which the cost of a scrape is bounded.
const many = 10_000

// blank is a response that goes nowhere.
type blank struct{ h http.Header }

func (b blank) Header() http.Header         { return b.h }
func (b blank) Write(p []byte) (int, error) { return len(p), nil }
func (b blank) WriteHeader(int)             {}

func serve(h http.Handler) time.Duration {
	r := httptest.NewRequest("GET", "/metrics", nil)
	began := time.Now()
	h.ServeHTTP(blank{http.Header{}}, r)
	return time.Since(began)
}

// ready serves families that were made beforehand: all that is left to do is
// writing the text.
func ready(m *metrics.Metrics) http.Handler {
	all, _, _ := m.Gather()
	g := prometheus.GathererFunc(func() ([]*dto.MetricFamily, error) { return all, nil })
	return promhttp.HandlerFor(g, promhttp.HandlerOpts{Timeout: time.Minute, EnableOpenMetrics: true})
}

// BenchmarkScrape compares a scrape with one of as many series that were
// gathered beforehand, turn by turn in the same run. It reports the best time
// of both per scrape and their ratio.
func BenchmarkScrape(b *testing.B) {
	m := metrics.New(metricstest.Options(many))
	bare := ready(m)
	serve(m)
	serve(bare)
	ours, theirs := serve(m), serve(bare)
	b.ReportAllocs()
	for b.Loop() {
		ours, theirs = min(ours, serve(m)), min(theirs, serve(bare))
	}
	b.ReportMetric(float64(ours.Milliseconds()), "ms/scrape")
	b.ReportMetric(float64(theirs.Milliseconds()), "ms/bare")
	b.ReportMetric(ours.Seconds()/theirs.Seconds(), "ratio")
}

// BenchmarkGather is what a scrape costs before anything is written.
func BenchmarkGather(b *testing.B) {
	m := metrics.New(metricstest.Options(many))
	b.ReportAllocs()
	for b.Loop() {
		_, done, _ := m.Gather()
		done()
	}
}

// BenchmarkRegistry is the usual way, for comparison: constant metrics made
// for every scrape and checked by a registry.
func BenchmarkRegistry(b *testing.B) {
	r := prometheus.NewRegistry()
	r.MustRegister(strict{metrics.New(metricstest.Options(many))})
	h := promhttp.HandlerFor(r, promhttp.HandlerOpts{})
	for b.Loop() {
		serve(h)
	}
}
