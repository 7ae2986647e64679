package senml

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/fxamacker/cbor/v2"
	"pgregory.net/rapid"

	"heaterd/ingest/reading"
)

const four = `[{"bn":"n-07/","bt":1768197590,"n":"flame","vb":true},{"n":"runtime","u":"s","v":1485000},` +
	`{"n":"co","u":"ppm","v":3.5},{"n":"temp","u":"Cel","v":14.2}]`

func TestDecode(t *testing.T) {
	at := reading.Instant(1768197590_000000)
	for _, c := range []struct {
		name, body string
		node       reading.NodeID
		want       reading.Pack
	}{
		{name: "four quantities of one instant", body: four, want: reading.Pack{Node: "n-07", Samples: []reading.Sample{
			{At: at, Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp, On: reading.Flame, Runtime: 1485000, CO: 3.5, Temp: 14.2},
		}}},
		{name: "descending times come out ascending and joined",
			body: `[{"bn":"n-07/","bt":1768197590,"n":"co","u":"ppm","v":1},{"n":"co","u":"ppm","t":-10,"v":2},{"n":"temp","u":"Cel","v":3},{"n":"temp","u":"Cel","t":-10,"v":4}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{
				{At: at - 10_000000, Has: reading.CO | reading.Temp, CO: 2, Temp: 4},
				{At: at, Has: reading.CO | reading.Temp, CO: 1, Temp: 3},
			}}},
		{name: "urn, base value, largest update time, unknown name and label",
			body: `[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1768197590,"bv":20,"n":"temp","u":"Cel","v":1,"ut":90},{"n":"rssi","v":-70,"ut":60,"x":{"y":[1]}},{"n":"supply","vb":false}]`,
			want: reading.Pack{Node: "10e2073a0108006", Within: 90 * time.Second, Ignored: 1, Samples: []reading.Sample{
				{At: at, Has: reading.Temp | reading.Supply, Temp: 21},
			}}},
		{name: "a base value alone is the value", body: `[{"bn":"n-07/","bt":1768197590,"bv":20,"bu":"Cel","n":"temp"}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{{At: at, Has: reading.Temp, Temp: 20}}}},
		{name: "no node, relative time, base fields first", body: ` [{"bu":"ppm"},{"n":"co","v":7}] `,
			want: reading.Pack{Samples: []reading.Sample{{At: arrived, Has: reading.CO, CO: 7}}}},
		{name: "a clock not set yet counts from when the node was switched on",
			body: `[{"bn":"n-07/","bt":35,"n":"temp","u":"Cel","v":3},{"n":"temp","u":"Cel","t":-15,"v":4},{"n":"temp","u":"Cel","t":-30,"v":5}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{
				{At: arrived.AddSeconds(-30), Has: reading.Temp, Temp: 5},
				{At: arrived.AddSeconds(-15), Has: reading.Temp, Temp: 4},
				{At: arrived, Has: reading.Temp, Temp: 3},
			}}},
		{name: "a clock not set yet counts from 0",
			body: `[{"bn":"n-07/","n":"temp","u":"Cel","t":1,"v":4},{"n":"temp","u":"Cel","v":5}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{
				{At: arrived.AddSeconds(-1), Has: reading.Temp, Temp: 5},
				{At: arrived, Has: reading.Temp, Temp: 4},
			}}},
		{name: "a clock set within a pack: two quantities of one instant are one sample",
			body: `[{"bn":"n-07/","n":"temp","u":"Cel","t":5,"v":4},{"n":"call","t":1768197600,"vb":true}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{
				{At: arrived, Has: reading.Temp | reading.Call, On: reading.Call, Temp: 4},
			}}},
		{name: "the topic's node within a longer name", node: "n-07", body: `[{"n":"sites/quay/n-07/burner/co","u":"/","v":0.000007}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{{At: arrived, Has: reading.CO, CO: 7}}}},
		{name: "the topic's node as a component of a device urn", node: "10e2", body: `[{"n":"urn:dev:ow:10e2_hall:co","u":"ppm","v":7}]`,
			want: reading.Pack{Node: "10e2", Samples: []reading.Sample{{At: arrived, Has: reading.CO, CO: 7}}}},
		{name: "the topic's node and no other", node: "n-07", body: `[{"n":"co","u":"ppm","v":7}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{{At: arrived, Has: reading.CO, CO: 7}}}},
		{name: "secondary units with version 26", body: `[{"bver":26,"n":"n-07/runtime","u":"h","v":2}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{{At: arrived, Has: reading.Runtime, Runtime: 7200}}}},
		{name: "flame as a number", body: `[{"n":"n-07/flame","v":1}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{{At: arrived, Has: reading.Flame, On: reading.Flame}}}},
		{name: "level and voltage of one instant: the level", body: `[{"bn":"n-07/","n":"battery","u":"V","v":3.1},{"n":"battery","u":"%EL","v":50}]`,
			want: reading.Pack{Node: "n-07", Samples: []reading.Sample{{At: arrived, Has: reading.BatteryLevel, Battery: 0.5}}}},
		{name: "a sum alone is none of ours", body: `[{"bn":"n-07/","n":"runtime","s":5},{"n":"call","vb":true}]`,
			want: reading.Pack{Node: "n-07", Ignored: 1, Samples: []reading.Sample{{At: arrived, Has: reading.Call, On: reading.Call}}}},
	} {
		got, err := Decode([]byte(c.body), Options{Arrived: arrived, Node: c.node})
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\n got %+v, %v\nwant %+v", c.name, got, err, c.want)
		}
		if again, err := Decode(toCBOR(t, []byte(c.body)), Options{Arrived: arrived, Node: c.node}); err != nil || !reflect.DeepEqual(again, c.want) {
			t.Errorf("%s as CBOR:\n got %+v, %v\nwant %+v", c.name, again, err, c.want)
		}
	}
}

// One value that cannot be taken is left out and told; what a CO sensor says
// beside it is not lost.
func TestASpoiltValueSpoilsNoOther(t *testing.T) {
	for _, c := range []struct{ record, reason, where string }{
		{`{"n":"temp","u":"Cel","v":-127}`, "range", "record 2"},
		{`{"n":"temp","u":"F","v":14}`, "unit", "record 2"},
		{`{"n":"temp","u":"Cel","v":null}`, "field", "record 2, byte 66"},
		{`{"n":"temp","u":"Cel","v":"cold"}`, "field", "record 2, byte 66"},
		{`{"n":"temp","u":"Cel","v":[1,{"x":2}]}`, "field", "record 2, byte 66"},
		{`{"n":"fuel","v":1.3}`, "range", "record 2"},
		{`{"n":"battery","u":"%EL","v":120}`, "range", "record 2"},
		{`{"n":"runtime","u":"s","v":-5}`, "range", "record 2"},
		{`{"n":"runtime","u":"s","v":1e400}`, "range", ""},
		{`{"n":"flame","vs":"on"}`, "field", "record 2"},
		{`{"n":"call","vb":"yes"}`, "field", ""},
		{`{"n":"temp","u":"Cel","v":14,"t":-3e9}`, "time", "record 2"},
	} {
		body := `[{"bn":"n/","n":"co","u":"ppm","v":400},` + c.record + `,{"n":"supply","vb":true}]`
		got, err := Decode([]byte(body), Options{Arrived: arrived})
		want := []reading.Sample{{At: arrived, Has: reading.CO | reading.Supply, On: reading.Supply, CO: 400}}
		if err != nil || !reflect.DeepEqual(got.Samples, want) {
			t.Errorf("%s: %+v, %v", c.record, got, err)
			continue
		}
		if w := got.Spoilt; w == nil || string(w.Reason) != c.reason || c.where != "" && w.Where != c.where {
			t.Errorf("%s: told %v, want %s at %s", c.record, w, c.reason, c.where)
		}
	}
}

// toCBOR writes a JSON pack with the labels of RFC 8428 table 4.
func toCBOR(t testing.TB, body []byte) []byte {
	t.Helper()
	labels := map[string]int{"bver": -1, "bn": -2, "bt": -3, "bu": -4, "bv": -5, "bs": -6, "n": 0, "u": 1, "v": 2, "vs": 3, "vb": 4, "s": 5, "t": 6, "ut": 7, "vd": 8}
	var pack []map[string]any
	if err := json.Unmarshal(body, &pack); err != nil {
		t.Fatal(err)
	}
	out := make([]map[any]any, len(pack))
	for i, fields := range pack {
		out[i] = map[any]any{}
		for k, v := range fields {
			if l, ok := labels[k]; ok {
				out[i][l] = v
			} else {
				out[i][k] = v
			}
		}
	}
	b, err := cbor.Marshal(out)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		body   string
		reason reading.Reason
		where  string
	}{
		{``, reading.BadSyntax, ""},
		{`hello`, reading.BadSyntax, ""},
		{`{"n":"co"}`, reading.BadSyntax, ""},
		{`[]`, reading.NothingIn, ""},
		{`[{"n":"rssi","v":1}]`, reading.NothingIn, ""},
		{`[{"bn":"n-07","n":"co","u":"ppm","v":1}]`, reading.NothingIn, ""}, // n-07co
		{`[1]`, reading.BadField, "record 1, byte 1"},
		{`[{"n":"co","u":"ppm","v":1}`, reading.BadSyntax, "record 1, byte 27"},
		{`[{"n":"co","u":"ppm","v":1},]`, reading.BadSyntax, "record 2, byte 28"},
		{`[{"n":"co","u":"ppm","v":1}] x`, reading.BadSyntax, "byte 29"},
		{`[{"n":"co","u":"ppm","v":1,"v":1}]`, reading.BadField, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"\u0076":1}]`, reading.BadField, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"x":1,"x":1}]`, reading.BadField, "record 1"},
		{`[{"n":"co","u":"ppm","v":"1"}]`, reading.BadField, "record 1, byte 25"},
		{`[{"n":"co","u":"ppm","v":null}]`, reading.BadField, "record 1, byte 25"},
		{`[{"n":"co","u":"ppm","v":NaN}]`, reading.BadSyntax, "record 1, byte 25"},
		{`[{"n":"co","u":"ppm","v":1e400}]`, reading.BadRange, "record 1, byte 30"},
		{`[{"n":"co","u":"ppm","v":1e308}]`, reading.BadRange, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"vb":true}]`, reading.BadField, "record 1"},
		{`[{"n":"co","u":"ppm"}]`, reading.BadField, "record 1"},
		{`[{}]`, reading.BadField, "record 1"},
		{`[{"n":"co","vs":"high"}]`, reading.BadField, "record 1"},
		{`[{"n":"co","vb":true}]`, reading.BadField, "record 1"},
		{`[{"n":"co","v":1}]`, reading.BadUnit, "record 1"},
		{`[{"n":"runtime","u":"h","v":1}]`, reading.BadUnit, "record 1"},
		{`[{"bu":"ppm","n":"temp","v":1}]`, reading.BadUnit, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"crit_":1}]`, reading.BadVersion, "record 1"},
		{`[{"bver":11,"n":"co","u":"ppm","v":1}]`, reading.BadVersion, "record 1"},
		{`[{"n":"co","u":"ppm","v":1},{"bver":26,"n":"temp","v":1}]`, reading.BadVersion, "record 2"},
		{`[{"u":"ppm","v":1}]`, reading.BadName, "record 1"},
		{`[{"n":"-co","u":"ppm","v":1}]`, reading.BadName, "record 1"},
		{`[{"n":"n 7/co","u":"ppm","v":1}]`, reading.BadName, "record 1"},
		{`[{"n":"n-07/co","u":"ppm","v":1},{"n":"n-08/co","u":"ppm","v":1}]`, reading.BadName, "record 2"},
		{`[{"n":"` + strings.Repeat("n", 65) + `/co","u":"ppm","v":1}]`, reading.BadName, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"t":-3e9}]`, reading.BadTime, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"t":4294967296}]`, reading.BadTime, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"t":-1e300}]`, reading.BadTime, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"bt":1e300}]`, reading.BadTime, "record 1"},
		{`[{"n":"co","u":"ppm","v":1,"ut":-1}]`, reading.BadRange, "record 1"},
		{strings.Repeat("[", 1000), reading.BadField, "record 1, byte 1"},
		{`[{"x":` + strings.Repeat("[", 1000), reading.TooLarge, "record 1, byte 12"},
	} {
		refused(t, []byte(c.body), Options{Arrived: arrived}, c.reason, c.where)
	}
	refused(t, []byte(four), Options{Arrived: arrived, Node: "n-0"}, reading.BadTopic, "record 1")
	refused(t, []byte("["+strings.Repeat("{},", maxRecords)+"{}]"), Options{Arrived: arrived}, reading.TooLarge, "")
	refused(t, []byte("["+strings.Repeat(" ", maxBytes)), Options{Arrived: arrived}, reading.TooLarge, "")
	refused(t, []byte(`[{"n":"co","u":"ppm","v":1}]`), Options{}, reading.BadTime, "record 1") // arrival unknown
}

// A clock that stands at the end of 32 bits loses no reading.
func TestTheLastSecondOf32Bits(t *testing.T) {
	pack, err := Decode([]byte(`[{"n":"co","u":"ppm","v":300,"t":4294967295}]`), Options{Arrived: arrived, Node: "n-0"})
	if err != nil || len(pack.Samples) != 1 || pack.Samples[0].CO != 300 {
		t.Errorf("%+v, %v", pack, err)
	}
}

func refused(t *testing.T, body []byte, opt Options, reason reading.Reason, where string) {
	t.Helper()
	pack, err := Decode(body, opt)
	var r *reading.Refusal
	if !errors.As(err, &r) || r.Reason != reason || where != "" && r.Where != where || r.Detail == "" {
		t.Errorf("%.90q: got %v, want %s at %s", body, err, reason, where)
	}
	if !reflect.DeepEqual(pack, reading.Pack{}) {
		t.Errorf("%.90q: got %+v with the refusal", body, pack)
	}
}

func TestCBORRefusals(t *testing.T) {
	for _, c := range []struct {
		name   string
		body   any
		reason reading.Reason
	}{
		{"NaN", []map[int]any{{0: "co", 1: "ppm", 2: math.NaN()}}, reading.BadRange},
		{"infinite", []map[int]any{{0: "temp", 2: math.Inf(-1)}}, reading.BadRange},
		{"infinite time", []map[int]any{{0: "temp", 2: 1, 6: math.Inf(-1)}}, reading.BadTime},
		{"NaN time", []map[int]any{{0: "temp", 2: 1, 6: math.NaN()}}, reading.BadTime},
		{"NaN version", []map[int]any{{0: "temp", 2: 1, -1: math.NaN()}}, reading.BadVersion},
		{"text for a number", []map[int]any{{0: "temp", 2: "1"}}, reading.BadField},
		{"text for data", []map[int]any{{0: "x", 8: "1"}}, reading.BadField},
		{"a number for a name", []map[int]any{{0: 7, 2: 1}}, reading.BadField},
		{"must understand", []map[any]any{{0: "temp", 2: 1, "x_": 1}}, reading.BadVersion},
		{"no map", []int{1}, reading.BadField},
		{"labels without end", []map[int]any{many(maxLabels + 1)}, reading.TooLarge},
		{"records without end", make([]map[int]any, maxRecords+1), reading.TooLarge},
	} {
		b, err := cbor.Marshal(c.body)
		if err != nil {
			t.Fatal(err)
		}
		pack, err := Decode(b, Options{Arrived: arrived})
		var r *reading.Refusal
		if !errors.As(err, &r) || r.Reason != c.reason || !reflect.DeepEqual(pack, reading.Pack{}) {
			t.Errorf("%s: got %v, want %s", c.name, err, c.reason)
		}
	}
	for name, b := range map[string][]byte{
		"twice":    {0x81, 0xa2, 0x00, 0x61, 'x', 0x00, 0x61, 'x'},
		"trailing": append(toCBOR(t, []byte(four)), 0),
		"cut off":  toCBOR(t, []byte(four))[:20],
		"nesting":  append([]byte{0x81, 0xa1, 0x18, 0x63}, bytes.Repeat([]byte{0x81}, 1000)...),
	} {
		if _, err := Decode(b, Options{Arrived: arrived}); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

func many(n int) map[int]any {
	m := map[int]any{}
	for i := range n {
		m[100+i] = 1
	}
	return m
}

// A record with several faults is refused for the same one every time.
func TestCBORRefusalsAreStable(t *testing.T) {
	b, err := cbor.Marshal([]map[any]any{{0: 1, 1: 2, 2: "x", 6: "y", "b_": 1, "a_": 1}})
	if err != nil {
		t.Fatal(err)
	}
	_, first := Decode(b, Options{Arrived: arrived})
	for range 50 {
		if _, err := Decode(b, Options{Arrived: arrived}); err.Error() != first.Error() {
			t.Fatalf("got %v, then %v", first, err)
		}
	}
}

// A decimal fraction is a number in CBOR (RFC 8428 section 6).
func TestCBORDecimalFraction(t *testing.T) {
	b, err := cbor.Marshal([]map[int]any{{0: "temp", 2: cbor.Tag{Number: 4, Content: []int{-1, 215}}}})
	if err != nil {
		t.Fatal(err)
	}
	pack, err := Decode(b, Options{Arrived: arrived})
	if err != nil || pack.Samples[0].Temp != 21.5 {
		t.Errorf("got %+v, %v", pack, err)
	}
}

// A week of four quantities every ten seconds is within the limits.
func TestAWeekInOnePack(t *testing.T) {
	body := week()
	pack, err := Decode(body, Options{Arrived: arrived})
	if err != nil || len(pack.Samples) != 7*8640 || !pack.Samples[0].Carries(reading.Flame|reading.Temp) {
		t.Errorf("%d bytes: got %d samples, %v", len(body), len(pack.Samples), err)
	}
}

func week() []byte {
	p := reading.Pack{Node: "n-07"}
	for i := range 7 * 8640 {
		p.Samples = append(p.Samples, reading.Sample{
			At: arrived.AddSeconds(float64(10 * i)), Runtime: float64(10 * i), CO: 3.5, Temp: 14.2,
			Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp,
		})
	}
	return encode(p)
}

// A hostile pack costs little: its size is known before anything is built.
func TestHostilePacksAreCheap(t *testing.T) {
	million := []byte("[" + strings.Repeat(`{"n":"co","u":"ppm","v":1},`, 600_000) + `{}]`)
	deep := []byte(`[{"x":` + strings.Repeat("[", 10<<20))
	for name, body := range map[string][]byte{"many": million, "deep": deep} {
		allocs := testing.AllocsPerRun(1, func() {
			if _, err := Decode(body, Options{Arrived: arrived}); err == nil {
				t.Errorf("%s was taken", name)
			}
		})
		if allocs > 20 {
			t.Errorf("%s: %g allocations", name, allocs)
		}
	}
}

// packs draws packs as Decode can give them.
func packs() *rapid.Generator[reading.Pack] {
	return rapid.Custom(func(t *rapid.T) reading.Pack {
		p := reading.Pack{
			Node:   reading.NodeID(rapid.StringMatching(`[a-zA-Z0-9][a-zA-Z0-9._-]{0,20}`).Draw(t, "node")),
			Within: time.Duration(rapid.Int64Range(0, maxUpdate*1e6).Draw(t, "within")) * time.Microsecond,
		}
		at := int64(rapid.Int64Range(int64(earliest), int64(latest)-1e12).Draw(t, "begin"))
		for range rapid.IntRange(1, 5).Draw(t, "samples") {
			p.Samples = append(p.Samples, sample(t, reading.Instant(at)))
			at += rapid.Int64Range(1, 1e11).Draw(t, "gap")
		}
		return p
	})
}

func sample(t *rapid.T, at reading.Instant) reading.Sample {
	all := reading.Flame | reading.Runtime | reading.CO | reading.Temp | reading.Supply | reading.Call | reading.Fuel | reading.BatteryLevel
	s := reading.Sample{At: at, Has: reading.Quantity(rapid.IntRange(1, int(all)).Draw(t, "has"))}
	if s.Carries(reading.BatteryLevel) && rapid.Bool().Draw(t, "volts") {
		s.Has ^= reading.BatteryLevel | reading.BatteryVolts
	}
	s.On = reading.Quantity(rapid.IntRange(0, int(all)).Draw(t, "on")) & s.Has & (reading.Flame | reading.Supply | reading.Call)
	s.Runtime = drawn(t, s, reading.Runtime, 0, 1e9)
	s.CO = float32(drawn(t, s, reading.CO, -50, 1_000_000))
	s.Temp = float32(drawn(t, s, reading.Temp, -60, 150))
	s.Fuel = float32(drawn(t, s, reading.Fuel, 0, 1))
	s.Battery = float32(drawn(t, s, reading.BatteryLevel, 0, 1) + drawn(t, s, reading.BatteryVolts, 0, 60))
	return s
}

func drawn(t *rapid.T, s reading.Sample, q reading.Quantity, low, high float64) float64 {
	if !s.Carries(q) {
		return 0
	}
	return rapid.Float64Range(low, high).Draw(t, fmt.Sprintf("quantity %d", q))
}

func TestDecodeReadsWhatEncodeWrites(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := packs().Draw(t, "pack")
		got, err := Decode(encode(want), Options{Arrived: arrived})
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%s\n got %+v, %v\nwant %+v", encode(want), got, err, want)
		}
	})
}

func ExampleDecode() {
	pack, err := Decode([]byte(four), Options{Arrived: arrived})
	fmt.Println(pack.Node, pack.Samples[0].At, pack.Samples[0].CO, err)
	_, err = Decode([]byte(`[{"n":"n-07/co","u":"mg/m3","v":4}]`), Options{Arrived: arrived})
	fmt.Println(err)
	// Output:
	// n-07 2026-01-12T05:59:50Z 3.5 <nil>
	// unit at record 1: found co in "mg/m3", allowed: ppm, /
}
