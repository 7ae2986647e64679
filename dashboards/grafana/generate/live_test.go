package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"heaterd/dashboards/metrics"
	"heaterd/dashboards/metrics/metricstest"
	"heaterd/ingest/mqtt/mqtttest"
)

// prometheusOf starts a server that reads the page of a daemon with a fleet,
// every second, and gives its address.
func prometheusOf(t *testing.T, page http.Handler) string {
	t.Helper()
	program, err := exec.LookPath("prometheus")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("prometheus is needed here")
		}
		t.Skip("prometheus is not installed")
	}
	s := httptest.NewServer(page)
	t.Cleanup(s.Close)
	dir, address := t.TempDir(), mqtttest.FreeAddr(t)
	cmd := exec.Command(program, "--config.file="+configuration(t, dir, s.Listener.Addr().String()),
		"--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+address, "--log.level=error")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	return "http://" + address
}

func configuration(t *testing.T, dir, target string) string {
	t.Helper()
	recording, err := filepath.Abs(rules + "/recording.yml")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "prometheus.yml")
	text := fmt.Sprintf(`global: { scrape_interval: 1s, evaluation_interval: 1s }
rule_files: [%q]
scrape_configs:
  - job_name: heaterd
    metrics_path: /
    static_configs: [{ targets: [%q] }]
`, recording, target)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// answer is what Prometheus says to a query.
type answer struct {
	Status, Error string
	Data          struct{ Result []json.RawMessage }
}

func ask(path string, form url.Values) (answer, error) {
	var a answer
	r, err := http.PostForm(path, form)
	if err != nil {
		return a, err
	}
	defer r.Body.Close()
	err = json.NewDecoder(r.Body).Decode(&a)
	return a, err
}

func now(base, expr string) (answer, error) {
	return ask(base+"/api/v1/query", url.Values{"query": {expr}})
}

func overTime(base, expr string) (answer, error) {
	end := time.Now()
	return ask(base+"/api/v1/query_range", url.Values{
		"query": {expr}, "step": {"1"},
		"start": {fmt.Sprint(end.Add(-30 * time.Second).Unix())}, "end": {fmt.Sprint(end.Unix())},
	})
}

// chosen fills in what Grafana does before it asks.
var chosen = strings.NewReplacer(
	"$__rate_interval", "5m", "$__interval", "1m", "$__range", "1h", `"$site"`, `".*"`, "$heater", "H-00000")

// waitFor waits until an expression gives a series.
func waitFor(t *testing.T, base, expr string) {
	t.Helper()
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	for deadline := time.Now().Add(40 * time.Second); time.Now().Before(deadline); <-tick.C {
		if a, err := now(base, expr); err == nil && len(a.Data.Result) > 0 {
			return
		}
	}
	t.Fatalf("%s gave nothing in 40 s", expr)
}

func TestEveryPanelShowsSomething(t *testing.T) {
	m := metrics.New(metricstest.Options(60))
	m.Commits().Observe(0.0007)
	base := prometheusOf(t, m)
	waitFor(t, base, `count_over_time(up{job="heaterd"}[1m]) > 4`)
	waitFor(t, base, `count_over_time(site_ending:heaterd_burns:increase1d[1m]) > 2`)
	asked := 0
	for name, d := range read(t) {
		for _, p := range d.Panels {
			for _, q := range p.Targets {
				expr := chosen.Replace(q.Expr)
				asked++
				for how, f := range map[string]func(string, string) (answer, error){"query": now, "query_range": overTime} {
					a, err := f(base, expr)
					if err != nil || a.Status != "success" || len(a.Data.Result) == 0 {
						t.Errorf("%s, %q, %s: %s %s %v: %d series for\n%s", name, p.Title, how, a.Status, a.Error, err, len(a.Data.Result), expr)
					}
				}
			}
		}
	}
	t.Logf("%d queries, each now and over time", asked)
}

func TestChoicesNameALabelTheMetricHas(t *testing.T) {
	for name, d := range read(t) {
		for _, c := range d.Templating.List {
			inner, ok := strings.CutPrefix(c.Query, "label_values(")
			label := strings.TrimSuffix(inner[strings.LastIndex(inner, ", ")+2:], ")")
			metric, _, _ := strings.Cut(strings.Split(inner, ",")[0], "{")
			if !ok || !hasLabel(metric, label) || c.Datasource.UID != sourceUID {
				t.Errorf("%s: the choice %q asks for %q", name, c.Name, c.Query)
			}
		}
	}
}

func hasLabel(metric, label string) bool { return slices.Contains(known()[metric], label) }

// known gives the metrics of a page that has one of everything, each with its
// labels.
var known = sync.OnceValue(func() map[string][]string {
	all, done, err := metrics.New(metricstest.Options(60)).Gather()
	if err != nil {
		panic(err)
	}
	defer done()
	out := map[string][]string{}
	for _, f := range all {
		var labels []string
		for _, l := range f.Metric[0].Label {
			labels = append(labels, l.GetName())
		}
		out[f.GetName()] = labels
	}
	return out
})
