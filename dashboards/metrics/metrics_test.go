package metrics_test

import (
	"bytes"
	"flag"
	"net/http/httptest"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	dto "github.com/prometheus/client_model/go"
	"google.golang.org/protobuf/proto"

	"heaterd/alerts/fold"
	"heaterd/dashboards/metrics"
	"heaterd/dashboards/metrics/metricstest"
)

var update = flag.Bool("update", false, "write the page as it is to testdata")

// gatherer gathers for good, in the order of a registry: what it gives is not
// used again.
type gatherer struct{ *metrics.Metrics }

func (g gatherer) Gather() ([]*dto.MetricFamily, error) {
	all, _, err := g.Metrics.Gather()
	for _, f := range all {
		sortSeries(f)
	}
	return all, err
}

func names() []string {
	var list []string
	for _, f := range metrics.Families() {
		list = append(list, f.Name)
	}
	return list
}

func scrape(m *metrics.Metrics, accept string) string {
	r := httptest.NewRequest("GET", "/metrics", nil)
	r.Header.Set("Accept", accept)
	w := httptest.NewRecorder()
	m.ServeHTTP(w, r)
	return w.Body.String()
}

// own keeps the lines about the daemon's own metrics.
func own(page string) string {
	var b strings.Builder
	for line := range strings.Lines(page) {
		if strings.Contains(line, "heaterd_") {
			b.WriteString(strings.ReplaceAll(line, runtime.Version(), "GO"))
		}
	}
	return b.String()
}

func TestPageIsAsWritten(t *testing.T) {
	m := metrics.New(metricstest.Options(2))
	m.Commits().Observe(0.0007)
	const file = "testdata/page.txt"
	if *update {
		if err := os.WriteFile(file, []byte(own(scrape(m, ""))), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got := own(scrape(m, "")); got != string(want) {
		t.Errorf("the page differs from %s; run with -update and read the difference", file)
	}
	expected := strings.NewReader(strings.ReplaceAll(string(want), "GO", runtime.Version()))
	if err := testutil.GatherAndCompare(gatherer{m}, expected, names()...); err != nil {
		t.Error(err)
	}
}

// strict is the page through the eyes of a pedantic registry, which refuses
// repeated series, labels that are not described, and text that is not UTF-8.
type strict struct{ m *metrics.Metrics }

func descOf(f metrics.Family) *prometheus.Desc {
	return prometheus.NewDesc(f.Name, f.Help, f.Labels, nil)
}

func (s strict) Describe(ch chan<- *prometheus.Desc) {
	for _, f := range metrics.Families() {
		if f.Type != "histogram" {
			ch <- descOf(f)
		}
	}
}

func (s strict) Collect(ch chan<- prometheus.Metric) {
	all, done, _ := s.m.Gather()
	defer done()
	for _, f := range metrics.Families() {
		i := slices.IndexFunc(all, func(mf *dto.MetricFamily) bool { return mf.GetName() == f.Name })
		if i < 0 || f.Type == "histogram" {
			continue
		}
		for _, one := range all[i].Metric {
			ch <- constant(f, one)
		}
	}
}

func constant(f metrics.Family, one *dto.Metric) prometheus.Metric {
	kind, value := prometheus.GaugeValue, one.GetGauge().GetValue()
	if f.Type == "counter" {
		kind, value = prometheus.CounterValue, one.GetCounter().GetValue()
	}
	var values []string
	for i, l := range one.Label {
		if l.GetName() != f.Labels[i] {
			panic(f.Name + ": label " + l.GetName() + " where " + f.Labels[i] + " should be")
		}
		values = append(values, l.GetValue())
	}
	return prometheus.MustNewConstMetric(descOf(f), kind, value, values...)
}

func TestPageSatisfiesAPedanticRegistry(t *testing.T) {
	m := metrics.New(metricstest.Options(200))
	r := prometheus.NewPedanticRegistry()
	r.MustRegister(strict{m})
	want, err := r.Gather()
	if err != nil {
		t.Fatal(err)
	}
	got, err := gatherer{m}.Gather()
	if err != nil {
		t.Fatal(err)
	}
	got = slices.DeleteFunc(got, func(f *dto.MetricFamily) bool {
		return !strings.HasPrefix(f.GetName(), "heaterd_") || f.GetType() == dto.MetricType_HISTOGRAM
	})
	if len(got) != len(want) || len(got) != len(metrics.Families())-1 {
		t.Fatalf("%d families, the registry has %d, described are %d", len(got), len(want), len(metrics.Families())-1)
	}
	for i := range got {
		if !proto.Equal(got[i], want[i]) {
			t.Errorf("%s is not what a registry makes of it", got[i].GetName())
		}
	}
}

func sortSeries(f *dto.MetricFamily) {
	f.Metric = slices.Clone(f.Metric)
	slices.SortFunc(f.Metric, func(a, b *dto.Metric) int { return strings.Compare(key(a), key(b)) })
}

func key(m *dto.Metric) string {
	var b strings.Builder
	for _, l := range m.Label {
		b.WriteString(l.GetName() + "\x00" + l.GetValue() + "\x00")
	}
	return b.String()
}

func TestPromtoolFindsNothingWrong(t *testing.T) {
	promtool := tool(t, "promtool")
	for _, page := range []string{scrape(metrics.New(metricstest.Options(60)), ""), scrape(metrics.New(metrics.Options{}), "")} {
		cmd := exec.Command(promtool, "check", "metrics")
		cmd.Stdin = strings.NewReader(own(page))
		if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("promtool: %v\n%s", err, out)
		}
	}
}

func TestOpenMetricsPageEndsAndNamesCountersRight(t *testing.T) {
	page := scrape(metrics.New(metricstest.Options(4)), "application/openmetrics-text;version=1.0.0")
	if !strings.HasSuffix(page, "# EOF\n") {
		t.Error("no end mark")
	}
	if !strings.Contains(page, "# TYPE heaterd_burner_runtime_seconds counter\n") {
		t.Error("counter not announced without its suffix")
	}
}

// changed gives the page before and after a change of a fleet.
func changed(change func(*fold.View)) (before, after string) {
	v := metricstest.View(4)
	o := metrics.Options{View: func() fold.View { return v }}
	m := metrics.New(o)
	before = scrape(m, "")
	change(&v)
	return before, scrape(m, "")
}

func TestWhatIsNoLongerTrueIsLeftOut(t *testing.T) {
	const h = `{heater="H-00001",`
	cases := []struct {
		name       string
		change     func(*fold.View)
		gone, kept []string
	}{
		{
			"a silent node", func(v *fold.View) { v.Heaters[1].Silent = true },
			[]string{"heaterd_flame_lit" + h, "heaterd_fuel_ratio" + h, "heaterd_burner_runtime_seconds_total" + h},
			[]string{"heaterd_node_last_reading_timestamp_seconds" + h, `heaterd_burns_total{ending="planned",heater="H-00001"`, "heaterd_service_due_timestamp_seconds" + h},
		},
		{
			"a heater put away", func(v *fold.View) { v.Heaters[1].Silent, v.Heaters[1].OutOfWork = true, true },
			[]string{"heaterd_node_last_reading_timestamp_seconds" + h}, []string{`heaterd_burns_total{ending="planned",heater="H-00001"`},
		},
		{
			"CO no longer heard", func(v *fold.View) { v.Sites[0].Spaces[0].COHeard = false },
			[]string{"heaterd_space_co_ppm{", "heaterd_space_co_average_ppm{", "heaterd_space_carboxyhaemoglobin_ratio{"},
			[]string{"heaterd_space_co_limit_ppm{", "heaterd_space_temperature_celsius{"},
		},
		{
			"temperature no longer heard", func(v *fold.View) { v.Sites[0].Spaces[0].TempHeard = false },
			[]string{"heaterd_space_temperature_celsius{"}, []string{"heaterd_space_co_ppm{"},
		},
		{
			"a heater given back", func(v *fold.View) { v.Heaters = append(v.Heaters[:1:1], v.Heaters[2:]...) },
			[]string{`heater="H-00001"`}, []string{`heater="H-00000"`, `heater="H-00003"`},
		},
		{
			"a task dropped", func(v *fold.View) { v.Heaters[1].Standings = v.Heaters[1].Standings[:1] },
			[]string{`heaterd_service_due_timestamp_seconds` + h + `site="site-000",space="space-0",task="` + metricstest.View(1).Heaters[0].Standings[1].Task},
			[]string{`heaterd_service_due_timestamp_seconds` + h},
		},
		{
			"an alarm over", func(v *fold.View) { v.Alarms = nil },
			[]string{`state="suppressed"`, `state="acknowledged"`},
			[]string{`heaterd_alarms{kind="co-ceiling",priority="critical",state="unacknowledged"} 0`},
		},
		{
			"a heater renamed", func(v *fold.View) { v.Heaters[1].ID = "H-new" },
			[]string{`heater="H-00001"`}, []string{`heaterd_flame_lit{heater="H-new"`, `heaterd_burns_total{ending="planned",heater="H-new"`},
		},
		{
			"a space renamed", func(v *fold.View) { v.Sites[0].Spaces[0].ID = "tent" },
			[]string{`heaterd_space_co_ppm{site="site-000",space="space-0"}`}, []string{`heaterd_space_co_ppm{site="site-000",space="tent"}`},
		},
		{
			"a node moved", func(v *fold.View) { v.Heaters[1].Node = "n-new" },
			[]string{`node="n-00001"`}, []string{`node="n-new"`},
		},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			before, after := changed(c.change)
			for _, s := range c.gone {
				if !strings.Contains(before, s) || strings.Contains(after, s) {
					t.Errorf("%s: there before %v, after %v", s, strings.Contains(before, s), strings.Contains(after, s))
				}
			}
			for _, s := range c.kept {
				if !strings.Contains(after, s) {
					t.Errorf("%s is missing", s)
				}
			}
		})
	}
}

func TestNothingGivenLeavesItOut(t *testing.T) {
	page := own(scrape(metrics.New(metrics.Options{}), ""))
	for line := range strings.Lines(page) {
		if !strings.Contains(line, "heaterd_build_info") && !strings.Contains(line, "heaterd_store_commit_duration_seconds") {
			t.Errorf("unexpected: %s", line)
		}
	}
}

func TestCommitsAreCountedInClassicBuckets(t *testing.T) {
	m := metrics.New(metrics.Options{})
	m.Commits().Observe(0.0007)
	if page := scrape(m, ""); !strings.Contains(page, `heaterd_store_commit_duration_seconds_bucket{le="0.001"} 1`) {
		t.Error("the bucket up to 1 ms is not counted")
	}
}

func TestCommitsAreCountedInNativeBuckets(t *testing.T) {
	m := metrics.New(metrics.Options{})
	m.Commits().Observe(0.0007)
	all, _ := gatherer{m}.Gather()
	for _, f := range all {
		if f.GetName() == "heaterd_store_commit_duration_seconds" {
			if spans := f.Metric[0].GetHistogram().GetPositiveSpan(); len(spans) == 0 {
				t.Error("no native bucket")
			}
			return
		}
	}
	t.Error("no histogram")
}

func TestAPageStaysAsItIsWhileAnotherIsMade(t *testing.T) {
	n := 0
	m := metrics.New(metrics.Options{Outbox: func() metrics.Outbox { n++; return metrics.Outbox{Pending: n} }})
	pending := func(all []*dto.MetricFamily) float64 {
		i := slices.IndexFunc(all, func(f *dto.MetricFamily) bool { return f.GetName() == "heaterd_outbox_messages" })
		return all[i].Metric[0].GetGauge().GetValue()
	}
	_, done, _ := m.Gather()
	done()
	first, doneFirst, _ := m.Gather()
	second, doneSecond, _ := m.Gather()
	if pending(first) != 2 || pending(second) != 3 {
		t.Errorf("%v and %v are pending, want 2 and 3", pending(first), pending(second))
	}
	doneFirst()
	doneSecond()
}

func TestScrapesAtOnceAgree(t *testing.T) {
	m := metrics.New(metricstest.Options(500))
	want := own(scrape(m, ""))
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 5 {
				if got := own(scrape(m, "")); got != want {
					t.Error("a page differs")
				}
			}
		})
	}
	wg.Wait()
}

func TestTooManyScrapesAtOnceAreRefused(t *testing.T) {
	held, let := make(chan bool), make(chan bool)
	m := metrics.New(metrics.Options{Connected: func() bool { held <- true; <-let; return true }})
	const most = 4
	var wg sync.WaitGroup
	for range most {
		wg.Go(func() { scrape(m, "") })
		<-held
	}
	w := httptest.NewRecorder()
	m.ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	if w.Code != 503 {
		t.Errorf("status %d, want 503", w.Code)
	}
	close(let)
	wg.Wait()
}

func TestOddNamesDoNotBreakThePage(t *testing.T) {
	v := metricstest.View(1)
	v.Heaters[0].ID = "a\"b\\c\nd\xff"
	page := scrape(metrics.New(metrics.Options{View: func() fold.View { return v }}), "")
	if !bytes.Contains([]byte(page), []byte(`heaterd_flame_lit{heater="a\"b\\c\nd`+"�\"")) {
		t.Error("the name is not escaped")
	}
}
