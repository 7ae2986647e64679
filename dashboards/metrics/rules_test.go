package metrics_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"heaterd/dashboards/metrics"
)

const rules = "../../testdata/prometheus"

// tool gives the path of a program that the test needs.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if os.Getenv("CI") == "true" {
		t.Fatal(name + " is needed here")
	}
	t.Skip(name + " is not installed")
	return ""
}

func TestRulesDoWhatTheirTestsSay(t *testing.T) {
	promtool := tool(t, "promtool")
	for _, args := range [][]string{
		{"check", "rules", "--lint-fatal", "recording.yml", "alerts.yml", "meta.yml"},
		{"check", "config", "prometheus.yml"},
		{"test", "rules", "rules_test.yml"},
	} {
		cmd := exec.Command(promtool, args...)
		cmd.Dir = rules
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", strings.Join(args, " "), err, out)
		}
	}
}

var (
	metricName = regexp.MustCompile(`\bheaterd_[a-z0-9_]+`)
	recorded   = regexp.MustCompile(`[a-z_]+:heaterd_[a-z0-9_]+:[a-z0-9_]+`)
	suffix     = regexp.MustCompile(`_(bucket|sum|count)$`)
)

func TestRulesAskForMetricsThatExist(t *testing.T) {
	all := readRules(t)
	known := names()
	for _, name := range recorded.FindAllString(all, -1) {
		if !strings.Contains(all, "record: "+name+"\n") {
			t.Errorf("%s is recorded nowhere", name)
		}
	}
	for _, name := range metricName.FindAllString(recorded.ReplaceAllString(all, ""), -1) {
		if !slices.Contains(known, name) && !slices.Contains(known, suffix.ReplaceAllString(name, "")) {
			t.Errorf("%s is no metric of the page", name)
		}
	}
}

func readRules(t *testing.T) string {
	t.Helper()
	files, err := filepath.Glob(rules + "/*.yml")
	if err != nil || len(files) < 4 {
		t.Fatalf("%v: %v", files, err)
	}
	var all strings.Builder
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all.Write(b)
	}
	return all.String()
}

// Whoever adds a metric reads here what the others look like.
func TestFamiliesAreDescribed(t *testing.T) {
	for _, f := range metrics.Families() {
		switch {
		case !strings.HasPrefix(f.Name, "heaterd_"), !strings.HasSuffix(f.Help, "."), !slices.IsSorted(f.Labels):
			t.Errorf("%+v", f)
		case (f.Type == "counter") != strings.HasSuffix(f.Name, "_total"):
			t.Errorf("%s is a %s", f.Name, f.Type)
		}
	}
}
