package outcome_test

import (
	"encoding/json"
	"math"
	"testing"

	"heaterd/alerts/outcome"
)

func TestFiguresAreWrittenShort(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{
		{float64(float32(162.8)), "162.8"},
		{float64(float32(4.96)), "4.96"},
		{float64(float32(0.57)), "0.57"},
		{200, "200"},
		{-5.92148544472218, "-5.9215"},
		{-0.00001, "0"},
		{1e300, "1e+300"},
	} {
		if got, err := json.Marshal(outcome.Figure(c.v)); err != nil || string(got) != c.want {
			t.Errorf("%v: %s %v, want %s", c.v, got, err, c.want)
		}
	}
	if got := outcome.Figure(math.Inf(1)); !math.IsInf(got, 1) {
		t.Errorf("infinity: %v", got)
	}
}
