package main

import (
	"fmt"
	"testing"

	"heaterd/alerts"
	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/config"
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

// While what people did is still being read back, nobody knows where a node is,
// and what comes in its name is kept.
func TestElsewhereIsNotSaidBeforeItIsKnown(t *testing.T) {
	d, _ := careDaemon(t)
	d.watch = alerts.New(alerts.Options{Log: d.store, Engine: fold.New(bigFleet(1), fold.DefaultRules())})
	d.cfg.Fleet.Sites = []fleet.Site{{ID: "s-0"}, {ID: "yard"}}
	for _, name := range []string{"sites/s-0/nodes/n-0/telemetry", "sites/yard/nodes/n-0/telemetry"} {
		if d.elsewhere(name, "n-0") {
			t.Errorf("%s is refused", name)
		}
	}
}

// What the daemon would refuse comes to nothing in a replay and in decode too.
func TestElsewhereInARecording(t *testing.T) {
	cfg, err := config.Parse("two.yaml", []byte(twoSites), config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	line := `{"at":"2026-01-12T06:00:00Z","topic":"sites/%s/nodes/n-1/telemetry","payload":"[{\"n\":\"co\",\"u\":\"ppm\",\"v\":900}]"}` + "\n"
	for site, alarms := range map[string]int{"quay": 1, "yard": 0} {
		n := 0
		for _, o := range replayed(t, cfg, fmt.Sprintf(line, site)) {
			if a, ok := o.(outcome.Alarm); ok && a.Kind == string(alarm.COCeiling) {
				n++
			}
		}
		refused := misplaced(cfg, "sites/"+site+"/nodes/n-1/telemetry", "n-1") != nil
		if n != alarms || refused != (alarms == 0) {
			t.Errorf("under the topic of site %s: %d alarms, refused %v", site, n, refused)
		}
	}
}

const twoSites = `version: 1
sites:
  - { id: quay, time_zone: UTC, limits: us-niosh, procedure: Out., spaces: [{ id: hall }] }
  - { id: yard, time_zone: UTC, limits: us-niosh, procedure: Out., spaces: [{ id: shed }] }
heaters:
  - { id: H-1, node: n-1, site: quay, space: hall }
  - { id: H-2, node: n-2, site: yard, space: shed }
`
