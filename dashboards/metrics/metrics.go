package metrics

import (
	"net/http"
	"sync"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	dto "github.com/prometheus/client_model/go"
)

// Metrics is the page. Its zero value is of no use; make it with New.
type Metrics struct {
	http.Handler

	o        Options
	registry *prometheus.Registry // what counts by itself: histogram, runtime, process
	commits  prometheus.Histogram
	build    []*dto.LabelPair

	mu   sync.Mutex
	idle *page // kept from the last scrape; its memory is worth a tenth of the next one's time
}

// New makes the page. It does nothing before the first scrape.
func New(o Options) *Metrics {
	m := &Metrics{o: o.withDefaults(), registry: prometheus.NewRegistry(), commits: newCommits(), build: buildLabels(o.Build)}
	m.registry.MustRegister(m.commits, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	m.Handler = promhttp.HandlerForTransactional(m, promhttp.HandlerOpts{
		ErrorLog: &complaints{log: m.o.Logger}, ErrorHandling: promhttp.ContinueOnError, Registry: m.registry,
		MaxRequestsInFlight: scrapesAtOnce, Timeout: scrapeWait, EnableOpenMetrics: true,
	})
	return m
}

// commitBuckets suits what one durable transaction takes, s: under a
// millisecond on an SSD, tens on a memory card, seconds on a sick disk.
// Common practice, no source.
var commitBuckets = []float64{0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10}

// newCommits makes a histogram with classic buckets and native ones, of 1.1
// times the width of the one before, for servers that know them.
func newCommits() prometheus.Histogram {
	return prometheus.NewHistogram(prometheus.HistogramOpts{
		Name: commitSecondsName, Help: commitSecondsHelp, Buckets: commitBuckets,
		NativeHistogramBucketFactor: 1.1, NativeHistogramMaxBucketNumber: 160,
	})
}

// Commits observes the seconds of every commit: for ingest.Options.
func (m *Metrics) Commits() prometheus.Observer { return m.commits }

// Gather takes stock. What it returns is good until done is called, once.
func (m *Metrics) Gather() (all []*dto.MetricFamily, done func(), err error) {
	others, err := m.registry.Gather()
	p := m.take()
	p.add(buildInfo, m.build, 1)
	p.daemon(&m.o)
	if m.o.View != nil {
		v := m.o.View()
		p.fleet(&v)
	}
	return p.merged(others), func() { m.giveBack(p) }, err
}

// take gives a page that nobody else uses. A sync.Pool would forget it at the
// garbage collections that a scrape's own text brings about.
func (m *Metrics) take() *page {
	m.mu.Lock()
	defer m.mu.Unlock()
	p := m.idle
	if p == nil {
		p = newPage()
	}
	m.idle = nil
	p.clear()
	return p
}

func (m *Metrics) giveBack(p *page) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.idle = p
}
