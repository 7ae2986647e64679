package config_test

import (
	"strings"
	"testing"

	"heaterd/config"
)

// Who chooses limits without a ceiling is told what that leaves out.
func TestSummaryTellsOfLimitsWithoutACeiling(t *testing.T) {
	for limits, want := range map[string]string{
		"us-osha":    "on its way to 200 ppm, the ceiling of us-niosh\n",
		"uk-eh40":    "on its way to 100 ppm\n",
		"us-niosh":   "",
		"us-calosha": "",
	} {
		got := config.Summary(parse(t, strings.Replace(least, "id: quay,", "id: quay, limits: "+limits+",", 1)))
		if said := strings.Contains(got, "no ceiling: no single reading"); said != (want != "") || !strings.Contains(got, want) {
			t.Errorf("%s: want %q in\n%s", limits, want, got)
		}
	}
}
