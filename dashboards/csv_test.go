package dashboards_test

import (
	"encoding/csv"
	"strings"
	"testing"

	"heaterd/dashboards"
)

func TestCellsAreNoFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+353": "'+353", "-x": "'-x", "@SUM(A1)": "'@SUM(A1)", "\t=1": "'=1", "|cmd": "'|cmd", "plain": "plain", "": "", "a=b": "a=b", "two\nlines": "two lines",
	} {
		if got := dashboards.Text(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

func TestSheetsReadBack(t *testing.T) {
	w := newWorld(t)
	for path, want := range map[string]string{
		"/reports/exposure?site=quay&space=hall": "twa_8h_ppm",
		"/reports/service?heater=H-07":           "'=HYPERLINK(\"x\")",
		"/reports/season?site=quay":              "ending_unexplained",
		"/reports/alarms":                        "co-short-term",
	} {
		rec := w.do("GET", path+separator(path)+"format=csv", nil)
		rows, err := csv.NewReader(strings.NewReader(rec.Body.String())).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Errorf("%s: %d rows, %v", path, len(rows), err)
			continue
		}
		found := false
		for _, r := range rows {
			for _, c := range r {
				found = found || c == want
			}
		}
		if !found {
			t.Errorf("%s: no cell %q", path, want)
		}
	}
}

func separator(path string) string {
	if strings.Contains(path, "?") {
		return "&"
	}
	return "?"
}
