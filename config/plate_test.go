package config

import (
	"math"
	"testing"
)

// What a plate's input makes of kerosene, against the figures in US units that
// the trade goes by.
func TestPublishedBurnRate(t *testing.T) {
	const (
		source   = "135,000 Btu per US gallon of kerosene (secondary text); 125,000 Btu/h burn 0.9259 gal/h, 3.505 L/h (computed)"
		kWOfBtuH = 0.29307107e-3 // international table Btu
		want     = 3.505
	)
	exact := 125_000 * kWOfBtuH * mjPerKWh / keroseneMJPerL
	got := burnsByInput(125_000 * kWOfBtuH)
	t.Logf("burn rate at 125,000 Btu/h, L/h | %s | expected %g | got %.4g, taken as %g", source, want, exact, got)
	if math.Abs(exact-want) > 0.005 || got != 3.5 {
		t.Errorf("got %v, taken as %v", exact, got)
	}
}
