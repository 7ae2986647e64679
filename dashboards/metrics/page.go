package metrics

import (
	"slices"
	"strings"

	dto "github.com/prometheus/client_model/go"
)

// page holds one scrape's samples, and between scrapes the memory for the
// next one.
type page struct {
	columns [familyCount]column
	heaters []heaterLabels
	spaces  []spaceLabels
	fixed   fixedLabels
	sinks   map[string][]*dto.LabelPair
	counts  alarmCounts
	list    []*dto.MetricFamily
}

// column is one family's samples. Those beyond n are left from fuller pages.
type column struct {
	family dto.MetricFamily
	all    []*dto.Metric
	values []*float64
	n      int
}

// slab is how many samples are made at once.
const slab = 256

func newPage() *page {
	p := &page{fixed: newFixedLabels(), sinks: map[string][]*dto.LabelPair{}}
	for i := range families {
		f := &p.columns[i].family
		f.Name, f.Help, f.Type = &families[i].name, &families[i].help, &families[i].kind
	}
	return p
}

// add puts one sample into a family. The label pairs must be sorted by name
// and stay as they are until the page is done.
func (p *page) add(which int, labels []*dto.LabelPair, value float64) {
	c := &p.columns[which]
	if c.n == len(c.all) {
		c.grow()
	}
	c.all[c.n].Label = labels
	*c.values[c.n] = value
	c.n++
}

func (c *column) grow() {
	metrics, values := make([]dto.Metric, slab), make([]float64, slab)
	counters, gauges := []dto.Counter(nil), []dto.Gauge(nil)
	if *c.family.Type == counter {
		counters = make([]dto.Counter, slab)
	} else {
		gauges = make([]dto.Gauge, slab)
	}
	for i := range metrics {
		m, v := &metrics[i], &values[i]
		if counters != nil {
			m.Counter, counters[i].Value = &counters[i], v
		} else {
			m.Gauge, gauges[i].Value = &gauges[i], v
		}
		c.all, c.values = append(c.all, m), append(c.values, v)
	}
}

func (p *page) clear() {
	for i := range p.columns {
		p.columns[i].n = 0
	}
}

// merged gives the page's families together with others, by name.
func (p *page) merged(others []*dto.MetricFamily) []*dto.MetricFamily {
	p.list = append(p.list[:0], others...)
	for i := range p.columns {
		if c := &p.columns[i]; c.n > 0 {
			c.family.Metric = c.all[:c.n]
			p.list = append(p.list, &c.family)
		}
	}
	slices.SortFunc(p.list, func(a, b *dto.MetricFamily) int { return strings.Compare(a.GetName(), b.GetName()) })
	return p.list
}
