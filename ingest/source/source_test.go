package source_test

import (
	"errors"
	"fmt"
	"testing"

	"heaterd/ingest/fields"
	"heaterd/ingest/reading"
	"heaterd/ingest/source"
)

const (
	arrived   = reading.Instant(1_768_197_600_000_000) // 2026-01-12T06:00:00Z
	telemetry = "sites/quay/nodes/n-07/telemetry"
)

func pick(t *testing.T, name string) source.Source {
	t.Helper()
	s, ok := source.Defaults().Pick(name)
	if !ok {
		t.Fatalf("no source for %s", name)
	}
	return s
}

func TestDefaults(t *testing.T) {
	for _, s := range source.Defaults() {
		if err := s.Check(); err != nil {
			t.Errorf("%s: %v", s.Filter, err)
		}
	}
	if got := pick(t, telemetry).Format; got != source.SenML {
		t.Errorf("telemetry: got %s", got)
	}
	if got := pick(t, "sites/quay/nodes/n-07/status").Format; got != source.Status {
		t.Errorf("status: got %s", got)
	}
	if _, ok := source.Defaults().Pick("sites/quay/nodes/n-07/command"); ok {
		t.Error("another topic was picked")
	}
}

func TestDecodeNode(t *testing.T) {
	fromTopic, fromPack := source.NodeFrom(4), source.FromPack
	for _, c := range []struct {
		name        string
		from        source.NodeFrom
		topic, body string
		node        reading.NodeID
		reason      reading.Reason
	}{
		{"topic only", fromTopic, telemetry, `[{"n":"co","u":"ppm","v":1}]`, "n-07", ""},
		{"both agree", fromTopic, telemetry, `[{"bn":"n-07/","n":"co","u":"ppm","v":1}]`, "n-07", ""},
		{"urn that contains it", fromTopic, telemetry, `[{"bn":"urn:dev:ops:32473-n_n-07:","n":"co","u":"ppm","v":1}]`, "n-07", ""},
		{"they differ", fromTopic, telemetry, `[{"bn":"n-08/","n":"co","u":"ppm","v":1}]`, "", reading.BadTopic},
		{"it only begins alike", fromTopic, telemetry, `[{"bn":"n-071/","n":"co","u":"ppm","v":1}]`, "", reading.BadTopic},
		{"pack only", fromPack, "anything", `[{"bn":"urn:dev:ow:10e2073a0108006:","n":"co","u":"ppm","v":1}]`, "10e2073a0108006", ""},
		{"neither", fromPack, "anything", `[{"n":"co","u":"ppm","v":1}]`, "", reading.BadName},
		{"topic too short", fromTopic, "sites/quay", `[{"n":"co","u":"ppm","v":1}]`, "", reading.BadTopic},
		{"empty level", fromTopic, "sites/quay/nodes//telemetry", `[{"n":"co","u":"ppm","v":1}]`, "", reading.BadTopic},
	} {
		s := source.Source{Filter: "#", Format: source.SenML, Node: c.from}
		got, err := s.Decode(c.topic, []byte(c.body), arrived)
		var r *reading.Refusal
		if errors.As(err, &r) != (c.reason != "") || r != nil && r.Reason != c.reason || got.Node != c.node {
			t.Errorf("%s: got %q, %v; want %q, %q", c.name, got.Node, err, c.node, c.reason)
		}
	}
}

func TestDecodeFields(t *testing.T) {
	m := &fields.Mapping{Fields: []fields.Field{{Quantity: "co", Pointer: "/co", Unit: "ppm"}}}
	if err := m.Compile(); err != nil {
		t.Fatal(err)
	}
	s := source.Source{Filter: "units/+", Format: source.Fields, Node: 2, Mapping: m}
	if err := s.Check(); err != nil {
		t.Fatal(err)
	}
	got, err := s.Decode("units/n-07", []byte(`{"co":4}`), arrived)
	if err != nil || got.Node != "n-07" || got.Samples[0].CO != 4 || got.Samples[0].At != arrived {
		t.Errorf("got %+v, %v", got, err)
	}
}

func TestDecodeStatus(t *testing.T) {
	s := pick(t, "sites/quay/nodes/n-07/status")
	for payload, want := range map[string]reading.Reason{"online": "", "offline\n": "", "": reading.NothingIn, "on": reading.BadField} {
		got, err := s.DecodeStatus("sites/quay/nodes/n-07/status", []byte(payload))
		var r *reading.Refusal
		if errors.As(err, &r) != (want != "") || r != nil && r.Reason != want {
			t.Errorf("%q: got %v, want %q", payload, err, want)
		}
		if err == nil && (got.Node != "n-07" || got.Online != (payload == "online")) {
			t.Errorf("%q: got %+v", payload, got)
		}
	}
	if _, err := s.Decode("sites/quay/nodes/n-07/status", []byte("online"), arrived); err == nil {
		t.Error("a status was read as telemetry")
	}
}

func TestCheck(t *testing.T) {
	for name, s := range map[string]source.Source{
		"bad filter":         {Filter: "a/#/b", Format: source.SenML},
		"unknown format":     {Filter: "a", Format: "xml", Node: 1},
		"no mapping":         {Filter: "a", Format: source.Fields, Node: 1},
		"level past the end": {Filter: "a/+", Format: source.SenML, Node: 3},
		"status from pack":   {Filter: "a/+", Format: source.Status},
		"negative level":     {Filter: "a/+", Format: source.SenML, Node: -1},
	} {
		if err := s.Check(); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	if err := (source.Source{Filter: "a/#", Format: source.SenML, Node: 4}).Check(); err != nil {
		t.Error(err)
	}
}

func TestTheSiteIsToldByTheTopic(t *testing.T) {
	all := append(source.Sources{{Filter: "plant/#", Format: source.SenML}}, source.Defaults()...)
	for name, want := range map[string]string{
		telemetry: "quay", "sites/mill/nodes/n-07/status": "mill", "plant/quay/x": "", "elsewhere": "",
	} {
		if got := all.SiteOf(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

func TestWhereANodeIsExpected(t *testing.T) {
	for _, c := range []struct {
		name string
		all  source.Sources
		want string
	}{
		{"the contract's topics, without the status", source.Defaults(), "[sites/quay/nodes/n-07/telemetry]"},
		{"no site in the topic", source.Sources{{Filter: "plant/+/state", Format: source.Fields, Node: 2}}, "[plant/n-07/state]"},
		{"another wildcard", source.Sources{{Filter: "+/+/+", Format: source.SenML, Node: 3, Site: 1}}, "[quay/+/n-07]"},
		{"named in the pack", source.Sources{{Filter: "all/#", Format: source.SenML}}, "[all/# (the message itself names n-07)]"},
		{"somewhere below", source.Sources{{Filter: "all/#", Format: source.SenML, Node: 3}}, "[all/# (topic level 3 is n-07)]"},
		{"always one node", source.Sources{{Filter: "all/one", Format: source.SenML, Node: 2}}, "[all/one (topic level 2 is n-07)]"},
	} {
		if got := fmt.Sprint(c.all.Expected("quay", "n-07")); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}
