package fields_test

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"heaterd/ingest/fields"
	"heaterd/ingest/reading"
)

const arrived = reading.Instant(1_768_197_600_000_000) // 2026-01-12T06:00:00Z

// mapping maps one message of an invented node.
func mapping(t testing.TB) *fields.Mapping {
	t.Helper()
	m := &fields.Mapping{
		Fields: []fields.Field{
			{Quantity: "flame", Pointer: "/burner/on"},
			{Quantity: "runtime", Pointer: "/burner/minutes", Unit: "min"},
			{Quantity: "temp", Pointer: "/env/0", Unit: "Cel", Scale: 5.0 / 9, Offset: -160.0 / 9},
			{Quantity: "co", Pointer: "/env/1", Unit: "ppm"},
			{Quantity: "supply", Pointer: "/mains"},
			{Quantity: "battery", Pointer: "/mv", Unit: "mV"},
		},
		Time:   fields.Time{Pointer: "/ts", Unit: fields.Milliseconds},
		Within: time.Minute,
	}
	if err := m.Compile(); err != nil {
		t.Fatal(err)
	}
	return m
}

const message = `{"ts":1768197590250,"burner":{"on":"on","minutes":90,"note":{"a":[1,2]}},"env":[50,3.5,{}],"mains":0,"mv":3300}`

func TestDecode(t *testing.T) {
	got, err := mapping(t).Decode([]byte(message), fields.Options{Arrived: arrived, Node: "n-07"})
	want := reading.Pack{Node: "n-07", Within: time.Minute, Samples: []reading.Sample{{
		At: 1768197590_250000, Runtime: 5400, Temp: 10, CO: 3.5, Battery: 3.3,
		Has: reading.Flame | reading.Runtime | reading.Temp | reading.CO | reading.Supply | reading.BatteryVolts,
		On:  reading.Flame,
	}}}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("\n got %+v, %v\nwant %+v", got, err, want)
	}
}

func TestAbsentIsNotZero(t *testing.T) {
	got, err := mapping(t).Decode([]byte(`{"ts":1768197590000,"env":[null,0]}`), fields.Options{})
	if err != nil || got.Samples[0].Has != reading.CO || got.Samples[0].CO != 0 {
		t.Errorf("got %+v, %v", got, err)
	}
}

// One value that cannot be taken is left out and told.
func TestASpoiltValueSpoilsNoOther(t *testing.T) {
	got, err := mapping(t).Decode([]byte(`{"ts":1768197590000,"env":[50,1e308]}`), fields.Options{Arrived: arrived})
	if err != nil || got.Samples[0].Has != reading.Temp || got.Spoilt == nil || got.Spoilt.Where != "/env/1" {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		body, where string
		reason      reading.Reason
	}{
		{``, "byte 0", reading.BadSyntax},
		{`{"ts":1768197590000}`, "", reading.NothingIn},
		{`[]`, "/ts", reading.BadTime},
		{`{"env":[0,1]}`, "/ts", reading.BadTime},
		{`{"ts":"now","mains":1}`, "/ts", reading.BadField},
		{`{"ts":1e300,"mains":1}`, "/ts", reading.BadTime},
		{`{"ts":0,"mains":1}`, "/ts", reading.BadTime},
		{`{"ts":1768197590000,"mains":"yes"}`, "/mains", reading.BadField},
		{`{"ts":1768197590000,"mains":2}`, "/mains", reading.BadField},
		{`{"ts":1768197590000,"env":["50"]}`, "/env/0", reading.BadField},
		{`{"ts":1768197590000,"env":[500]}`, "/env/0", reading.BadRange},
		{`{"ts":1768197590000,"mains":1,"mains":0}`, "byte 38", reading.BadField},
		{`{"ts":1768197590000,"mains":1} {}`, "byte 31", reading.BadSyntax},
		{`{"x":` + strings.Repeat("[", 1<<19), "byte 36", reading.TooLarge},
		{strings.Repeat(" ", 1<<20+1), "", reading.TooLarge},
	} {
		got, err := mapping(t).Decode([]byte(c.body), fields.Options{Arrived: arrived})
		var r *reading.Refusal
		if !errors.As(err, &r) || r.Reason != c.reason || r.Where != c.where || !reflect.DeepEqual(got, reading.Pack{}) {
			t.Errorf("%.60s: got %v, want %s at %s", c.body, err, c.reason, c.where)
		}
	}
}

func TestTimes(t *testing.T) {
	for _, c := range []struct {
		unit, value string
		want        reading.Instant
	}{
		{fields.Seconds, `1768197590.25`, 1768197590_250000},
		{fields.Milliseconds, `1768197590250`, 1768197590_250000},
		{fields.RFC3339, `"2026-01-12T07:59:50.25+02:00"`, 1768197590_250000},
		{fields.RFC3339, `"2026-01-12T05:59:50"`, 0}, // a local time without an offset could be any
	} {
		m := &fields.Mapping{Fields: []fields.Field{{Quantity: "call", Pointer: "/c"}}, Time: fields.Time{Pointer: "/t", Unit: c.unit}}
		if err := m.Compile(); err != nil {
			t.Fatal(err)
		}
		got, err := m.Decode([]byte(`{"c":true,"t":`+c.value+`}`), fields.Options{})
		if (err != nil) != (c.want == 0) || err == nil && got.Samples[0].At != c.want {
			t.Errorf("%s: got %+v, %v", c.value, got, err)
		}
	}
	m := &fields.Mapping{Fields: []fields.Field{{Quantity: "call", Pointer: ""}}}
	if err := m.Compile(); err != nil {
		t.Fatal(err)
	}
	if got, err := m.Decode([]byte(`true`), fields.Options{Arrived: arrived}); err != nil || got.Samples[0].At != arrived {
		t.Errorf("without a time: got %+v, %v", got, err)
	}
}

func TestCompile(t *testing.T) {
	for _, c := range []struct {
		name    string
		mapping fields.Mapping
	}{
		{"no field", fields.Mapping{}},
		{"unknown quantity", fields.Mapping{Fields: []fields.Field{{Quantity: "humidity", Pointer: "/h"}}}},
		{"unknown unit", fields.Mapping{Fields: []fields.Field{{Quantity: "temp", Pointer: "/t", Unit: "degF"}}}},
		{"unit missing", fields.Mapping{Fields: []fields.Field{{Quantity: "co", Pointer: "/c"}}}},
		{"unit on a switch", fields.Mapping{Fields: []fields.Field{{Quantity: "flame", Pointer: "/f", Unit: "s"}}}},
		{"mapped twice", fields.Mapping{Fields: []fields.Field{{Quantity: "flame", Pointer: "/f"}, {Quantity: "flame", Pointer: "/g"}}}},
		{"pointer without slash", fields.Mapping{Fields: []fields.Field{{Quantity: "flame", Pointer: "f"}}}},
		{"pointer with a bare tilde", fields.Mapping{Fields: []fields.Field{{Quantity: "flame", Pointer: "/a~2"}}}},
		{"time unit", fields.Mapping{Fields: []fields.Field{{Quantity: "flame", Pointer: "/f"}}, Time: fields.Time{Pointer: "/t", Unit: "h"}}},
		{"time without pointer", fields.Mapping{Fields: []fields.Field{{Quantity: "flame", Pointer: "/f"}}, Time: fields.Time{Unit: "s"}}},
		{"scale not finite", fields.Mapping{Fields: []fields.Field{{Quantity: "temp", Pointer: "/f", Scale: math.Inf(1)}}}},
	} {
		if err := c.mapping.Compile(); err == nil {
			t.Errorf("%s was taken", c.name)
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(message))
	f.Add([]byte(`{"ts":1768197590000,"env":[null,0],"burner":{"on":false}}`))
	m := mapping(f)
	f.Fuzz(func(t *testing.T, body []byte) {
		got, err := m.Decode(body, fields.Options{Arrived: arrived})
		if err != nil {
			var r *reading.Refusal
			if !errors.As(err, &r) || !reflect.DeepEqual(got, reading.Pack{}) {
				t.Fatalf("got %+v with %v", got, err)
			}
			return
		}
		s := got.Samples[0]
		if len(got.Samples) != 1 || s.Has == 0 || s.On&^s.Has != 0 || !(s.CO >= -50 && s.CO <= 1_000_000 && s.Temp >= -60 && s.Temp <= 150 && s.Runtime >= 0 && s.Runtime <= 1e9) {
			t.Fatalf("got %+v", got)
		}
	})
}

func ExampleMapping() {
	m := fields.Mapping{Fields: []fields.Field{{Quantity: "co", Pointer: "/env/co", Unit: "ppm"}}}
	fmt.Println(m.Compile())
	pack, err := m.Decode([]byte(`{"env":{"co":4}}`), fields.Options{Arrived: arrived})
	fmt.Println(pack.Samples[0].CO, err)
	_, err = m.Decode([]byte(`{"env":{"co":"4"}}`), fields.Options{Arrived: arrived})
	fmt.Println(err)
	// Output:
	// <nil>
	// 4 <nil>
	// field at /env/co: found a string, expected a number
}
