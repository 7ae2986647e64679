package main

import (
	"testing"

	"heaterd/alerts/fleet"
	"heaterd/ingest/source"
)

// Node n-0 is at the site s-0. Only a topic that names another site of ours
// speaks for it wrongly; what tells no site, or none of ours, is as good as ever.
func TestElsewhereIsAnotherSiteOfOurs(t *testing.T) {
	d, _ := careDaemon(t)
	d.cfg.Sources = append(source.Defaults(), source.Source{Filter: "plant/+", Format: source.SenML})
	d.cfg.Fleet.Sites = []fleet.Site{{ID: "s-0"}, {ID: "yard"}}
	for name, want := range map[string]bool{
		"sites/s-0/nodes/n-0/telemetry": false, "sites/yard/nodes/n-0/telemetry": true, "sites/yard/nodes/n-0/status": true,
		"sites/unheard-of/nodes/n-0/telemetry": false, "plant/yard": false,
	} {
		if got := d.elsewhere(name, "n-0"); got != want {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
}
