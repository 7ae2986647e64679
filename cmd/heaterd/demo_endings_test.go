package main

import (
	"testing"
	"time"

	"heaterd/config"
	"heaterd/ingest/jobsite"
	"heaterd/ingest/reading"
)

// What the demo shows of why flames went out is, nearly always, why they did:
// it is the first thing that somebody sees of heaterd.
func TestEndingsOfTheDemo(t *testing.T) {
	c := confusion{}
	start := reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))
	for seed := range uint64(10) {
		w, err := jobsite.NewWorld(jobsite.Demo(seed, start.Add(time.Duration(seed)*7*time.Hour)))
		if err != nil {
			t.Fatal(err)
		}
		lines := jobsite.Deliver(seed, w.Step(12*time.Hour), w.Acts(), jobsite.DeliverySpec{})
		cfg, err := config.Parse("demo.yaml", []byte(w.FleetYAML()), config.Options{})
		if err != nil {
			t.Fatal(err)
		}
		foldLines(cfg, lines, w.Truth()).confuse(c, 2*time.Minute)
	}
	t.Logf("\n%v", c)
	for _, n := range endingNames() {
		if p, r := c.precision(n), c.recall(n); p < 0.95 || r < 0.95 {
			t.Errorf("%s: precision %.3f, recall %.3f", n, p, r)
		}
	}
}
