package jobsite_test

import (
	"bytes"
	"encoding/json"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fxamacker/cbor/v2"
	"pgregory.net/rapid"

	"heaterd/ingest/jobsite"
	"heaterd/ingest/reading"
)

// entry is a SenML record by the names of RFC 8428.
type entry struct {
	BN   string   `json:"bn" cbor:"-2,keyasint"`
	BT   float64  `json:"bt" cbor:"-3,keyasint"`
	BVer int      `json:"bver" cbor:"-1,keyasint"`
	N    string   `json:"n" cbor:"0,keyasint"`
	U    string   `json:"u" cbor:"1,keyasint"`
	V    *float64 `json:"v" cbor:"2,keyasint"`
	VB   *bool    `json:"vb" cbor:"4,keyasint"`
	T    float64  `json:"t" cbor:"6,keyasint"`
	UT   float64  `json:"ut" cbor:"7,keyasint"`
}

func parse(t *rapid.T, payload []byte) (rs []entry) {
	var err error
	if payload[0] == '[' {
		err = json.Unmarshal(payload, &rs)
	} else {
		err = cbor.Unmarshal(payload, &rs)
	}
	if err != nil {
		t.Fatalf("%v in %q", err, payload)
	}
	return rs
}

// key names one quantity of one node at one instant.
type key struct {
	node, quantity string
	at             reading.Instant
}

// resolve lists what a pack says, as RFC 8428 section 4.6 does.
func resolve(rs []entry) map[key]float64 {
	out := map[key]float64{}
	for _, r := range rs {
		k := key{strings.TrimSuffix(rs[0].BN, "/"), r.N, reading.InstantOfSeconds(rs[0].BT + r.T)}
		switch {
		case r.V != nil:
			out[k] = *r.V
		case *r.VB:
			out[k] = 1
		default:
			out[k] = 0
		}
	}
	return out
}

// said lists what samples hold, the slow and plain way.
func said(m jobsite.Message, into map[key]float64) {
	for _, s := range m.Samples {
		put := func(q reading.Quantity, name string, v float64) {
			if s.Carries(q) {
				into[key{m.Node, name, s.At}] = v
			}
		}
		truth := func(q reading.Quantity, name string) {
			put(q, name, map[bool]float64{true: 1}[s.On&q != 0])
		}
		truth(reading.Flame, "flame")
		truth(reading.Supply, "supply")
		truth(reading.Call, "call")
		put(reading.Runtime, "runtime", s.Runtime)
		put(reading.CO, "co", float64(s.CO))
		put(reading.Temp, "temp", float64(s.Temp))
		put(reading.Fuel, "fuel", float64(s.Fuel))
		put(reading.BatteryLevel, "battery", float64(s.Battery)*100)
		put(reading.BatteryVolts, "battery", float64(s.Battery))
	}
}

// afternoon is a stretch of the demo with an outage in it: packs of many
// samples, statuses, every sensor.
func afternoon(t testing.TB) ([]jobsite.Message, []jobsite.Act) {
	w := build(t, jobsite.Demo(2, start))
	w.Step(205 * time.Minute)
	ms := w.Step(65 * time.Minute)
	return ms, w.Acts()
}

// Whatever the network does, short of losing it, everything said arrives and
// nothing that was not said, and lines are in order of arrival.
func TestDeliveryKeepsWhatWasSaid(t *testing.T) {
	ms, acts := afternoon(t)
	want := map[key]float64{}
	for _, m := range ms {
		said(m, want)
	}
	rapid.Check(t, func(t *rapid.T) {
		p := func(name string) float64 { return rapid.SampledFrom([]float64{0, 0.1, 0.6}).Draw(t, name) }
		from := start.Add(time.Duration(rapid.IntRange(200, 280).Draw(t, "from")) * time.Minute)
		spec := jobsite.DeliverySpec{
			ShuffleWithin: time.Duration(rapid.IntRange(0, 600).Draw(t, "shuffle")) * time.Second,
			Duplicate:     p("duplicate"), Join: p("join"), Split: p("split"), CBOR: p("cbor"),
			Outages: []jobsite.NodeOutage{{Node: rapid.SampledFrom([]string{"", "n-03"}).Draw(t, "node"), From: from,
				To: from.Add(time.Duration(rapid.IntRange(1, 10000).Draw(t, "for")) * time.Minute)}},
		}
		got, last, people := map[key]float64{}, reading.Instant(0), 0
		for _, l := range jobsite.Deliver(rapid.Uint64().Draw(t, "seed"), ms, acts, spec) {
			if l.At < last {
				t.Fatalf("%v after %v", l.At, last)
			}
			last = l.At
			switch {
			case l.Topic == "":
				people++
			case strings.HasSuffix(l.Topic, "/telemetry"):
				for k, v := range resolve(parse(t, l.Payload)) {
					got[k] = v
				}
			}
		}
		if people != len(acts) {
			t.Fatalf("%d acts, want %d", people, len(acts))
		}
		if len(got) != len(want) {
			t.Fatalf("%d values, want %d", len(got), len(want))
		}
		for k, v := range want {
			if g, ok := got[k]; !ok || math.Abs(g-v) > 1e-5*(1+math.Abs(v)) {
				t.Fatalf("%v: got %v, want %v", k, g, v)
			}
		}
	})
}

func TestDeliveryLosesAndHolds(t *testing.T) {
	ms, _ := afternoon(t)
	lines := jobsite.Deliver(1, ms, nil, jobsite.DeliverySpec{Loss: 0.5})
	if share := float64(len(lines)) / float64(len(ms)); share < 0.45 || share > 0.55 {
		t.Errorf("%v of the messages arrived", share)
	}
	from, to := start.Add(4*time.Hour), start.Add(24*time.Hour)
	lines = jobsite.Deliver(1, ms, nil, jobsite.DeliverySpec{Outages: []jobsite.NodeOutage{{Node: "n-01", From: from, To: to}}})
	for _, l := range lines {
		if strings.Contains(l.Topic, "/n-01/") && l.At > from.Add(time.Second) && l.At < to {
			t.Fatalf("%s arrived at %v, within the outage", l.Topic, l.At)
		}
	}
	if last := lines[len(lines)-1]; !strings.Contains(last.Topic, "/n-01/") {
		t.Errorf("nothing held came at the end but %s", last.Topic)
	}
}

func TestSenMLBytes(t *testing.T) {
	m := jobsite.Message{Site: "quay", Node: "n-07", Within: 30 * time.Second, Samples: []reading.Sample{
		{At: start + 250000, Has: reading.Flame | reading.Runtime | reading.CO, On: reading.Flame, Runtime: 12, CO: 3.1},
		{At: start + 30_250_001, Has: reading.Temp | reading.Supply, Temp: -4.25},
	}}
	want := `[{"bn":"n-07/","bt":1768176000.25,"bver":26,"n":"flame","ut":30,"vb":true},` +
		`{"n":"runtime","u":"s","v":12},{"n":"co","u":"ppm","v":3.1},` +
		`{"n":"temp","t":30.000001,"ut":30,"u":"Cel","v":-4.25},{"n":"supply","t":30.000001,"vb":false}]`
	if got := string(m.SenML()); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if got := m.Topic(); got != "sites/quay/nodes/n-07/telemetry" {
		t.Errorf("topic %s", got)
	}
	// array of 5, map of 6: -1: 26, -2: "n-07/", -3: …
	head := []byte{0x85, 0xa6, 0x20, 0x18, 26, 0x21, 0x65, 'n', '-', '0', '7', '/', 0x22}
	if got := m.SenMLCBOR(); !bytes.HasPrefix(got, head) {
		t.Errorf("CBOR begins % x, want % x", got[:len(head)], head)
	}
}

// keys of the configuration that a world may use.
var keys = strings.Fields(`version sites id name time_zone limits activity procedure contacts phone spaces volume_m3
	protect_above_c planned_off days from to heaters node site space input_kw burn_l_per_h tank_l thermostat
	setpoint_c differential_c dusty hours_at_start service_plan`)

func TestFleetYAMLHasTheContractsKeys(t *testing.T) {
	spec := jobsite.LabelledSpec(1, jobsite.LabelSpec{})
	for _, yaml := range []string{
		build(t, jobsite.Demo(1, start)).FleetYAML(), build(t, spec).FleetYAML(),
	} {
		yaml = regexp.MustCompile(`(?m)^ {6}[A-Z].*\n`).ReplaceAllString(yaml, "") // lines of the procedure
		yaml = regexp.MustCompile(`"[^"]*"`).ReplaceAllString(yaml, `""`)
		for _, m := range regexp.MustCompile(`(\w+):`).FindAllStringSubmatch(yaml, -1) {
			if !slices.Contains(keys, m[1]) {
				t.Errorf("key %q", m[1])
			}
		}
	}
}

func TestFleetYAMLMatchesTheWorld(t *testing.T) {
	w := build(t, jobsite.Demo(1, start))
	yaml := w.FleetYAML()
	for _, h := range w.Truth().Heaters {
		head := "  - id: " + h.ID + "\n    node: " + h.Node + "\n    site: " + h.Site + "\n    space: " + h.Space + "\n"
		if !strings.Contains(yaml, head) {
			t.Errorf("no %q", head)
		}
	}
	if !strings.Contains(yaml, "    thermostat: { setpoint_c: 13, differential_c: 2 }\n") {
		t.Error("no thermostat")
	}
}
