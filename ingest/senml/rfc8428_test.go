package senml

import (
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"heaterd/ingest/reading"
)

const (
	arrived = reading.Instant(1_768_197_600_000_000) // 2026-01-12T06:00:00Z

	// packFive is the second example of RFC 8428 section 5.1.2.
	packFive = `[
     {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
      "bu":"A","bver":5,
      "n":"voltage","u":"V","v":120.1},
     {"n":"current","t":-5,"v":1.2},
     {"n":"current","t":-4,"v":1.3},
     {"n":"current","t":-3,"v":1.4},
     {"n":"current","t":-2,"v":1.5},
     {"n":"current","t":-1,"v":1.6},
     {"n":"current","v":1.7}
   ]`

	// packFiveCBOR is the same pack as section 6 dumps it.
	packFiveCBOR = `87a721781b75726e3a6465763a6f773a
3130653230373361303130383030363a
22fb41d303a15b001062236141200500
67766f6c7461676501615602fb405e06
6666666666a3006763757272656e7406
2402fb3ff3333333333333a300676375
7272656e74062302fb3ff4cccccccccc
cda3006763757272656e74062202fb3f
f6666666666666a3006763757272656e
74062102f93e00a3006763757272656e
74062002fb3ff999999999999aa30067
63757272656e74060002fb3ffb333333
333333`

	// packMobile is section 5.1.3, packMobileResolved its section 5.1.4.
	packMobile = `[
     {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
     {"u":"lon","v":24.30621},
     {"u":"lat","v":60.07965},
     {"t":60,"v":20.3},
     {"u":"lon","t":60,"v":24.30622},
     {"u":"lat","t":60,"v":60.07965},
     {"t":120,"v":20.7},
     {"u":"lon","t":120,"v":24.30623},
     {"u":"lat","t":120,"v":60.07966},
     {"u":"%EL","t":150,"v":98},
     {"t":180,"v":21.2},
     {"u":"lon","t":180,"v":24.30628},
     {"u":"lat","t":180,"v":60.07967}
   ]`
	packMobileResolved = `[
     {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067464e+09,"v":20},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067464e+09,"v":24.30621},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067464e+09,"v":60.07965},
     {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067524e+09,"v":20.3},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067524e+09,"v":24.30622},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067524e+09,"v":60.07965},
     {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067584e+09,"v":20.7},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067584e+09,"v":24.30623},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067584e+09,"v":60.07966},
     {"n":"urn:dev:ow:10e2073a01080063","u":"%EL","t":1.320067614e+09,"v":98},
     {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067644e+09,"v":21.2},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067644e+09,"v":24.30628},
     {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067644e+09,"v":60.07967}
   ]`
)

// line is one resolved record, comparable.
type line struct {
	name, unit string
	at         reading.Instant
	value      float64
	kind       label
	on         bool
}

// resolveAll gives every record of a pack, ours or not.
func resolveAll(t *testing.T, body []byte) []line {
	t.Helper()
	var all []line
	res := resolver{opt: Options{Arrived: arrived}, each: func(r resolved) {
		all = append(all, line{string(r.name), string(r.unit), r.at, r.value, r.has & valueLabels, r.on})
	}}
	if err := res.read(body); err != nil {
		t.Fatalf("cannot read: %v", err)
	}
	return all
}

func secondsOf(s float64) reading.Instant { return reading.InstantOfSeconds(s) }

func unhex(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, "\n", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestPublishedExamples(t *testing.T) {
	const ow, owShort = "urn:dev:ow:10e2073a01080063", "urn:dev:ow:10e2073a0108006"
	current := func(at reading.Instant, v float64) line {
		return line{name: owShort + ":current", unit: "A", at: at, value: v, kind: labelV}
	}
	five := []line{
		{name: owShort + ":voltage", unit: "V", at: 1276020076_001000, value: 120.1, kind: labelV},
		current(1276020071_001000, 1.2), current(1276020072_001000, 1.3), current(1276020073_001000, 1.4),
		current(1276020074_001000, 1.5), current(1276020075_001000, 1.6), current(1276020076_001000, 1.7),
	}
	at := secondsOf(1320078429)
	for _, c := range []struct {
		section string
		body    []byte
		want    []line
	}{
		{"5.1.1", []byte(`[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]`),
			[]line{{name: ow, unit: "Cel", at: arrived, value: 23.1, kind: labelV}}},
		{"5.1.2 first", []byte(`[
			{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
			{"n":"current","u":"A","v":1.2}]`),
			[]line{
				{name: ow + ":voltage", unit: "V", at: arrived, value: 120.1, kind: labelV},
				{name: ow + ":current", unit: "A", at: arrived, value: 1.2, kind: labelV},
			}},
		{"5.1.2 second", []byte(packFive), five},
		{"6", unhex(t, packFiveCBOR), five},
		{"5.1.3 against 5.1.4", []byte(packMobile), resolveAll(t, []byte(packMobileResolved))},
		{"5.1.5", []byte(`[
			{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
			{"n":"label","vs":"Machine Room"},
			{"n":"open","vb":false},
			{"n":"nfv-reader","vd":"aGkgCg"}]`),
			[]line{
				{name: ow + ":temp", unit: "Cel", at: arrived, value: 23.1, kind: labelV},
				{name: ow + ":label", at: arrived, kind: labelVs},
				{name: ow + ":open", at: arrived, kind: labelVb},
				{name: ow + ":nfv-reader", at: arrived, kind: labelVd},
			}},
		{"5.1.6", []byte(`[
			{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
			{"n":"humidity","u":"%RH","v":30},
			{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
			{"n":"humidity","u":"%RH","v":67}]`),
			[]line{
				{name: "2001:db8::2/temperature", unit: "Cel", at: at, value: 25.2, kind: labelV},
				{name: "2001:db8::2/humidity", unit: "%RH", at: at, value: 30, kind: labelV},
				{name: "2001:db8::1/temperature", unit: "Cel", at: at, value: 12.3, kind: labelV},
				{name: "2001:db8::1/humidity", unit: "%RH", at: at, value: 67, kind: labelV},
			}},
		{"5.1.7 thermostat", []byte(`[
			{"bn":"urn:dev:ow:10e2073a01080063:"},
			{"n":"temp","u":"Cel","v":23.1},
			{"n":"heat","u":"/","v":1},
			{"n":"fan","u":"/","v":0}]`),
			[]line{
				{name: ow + ":temp", unit: "Cel", at: arrived, value: 23.1, kind: labelV},
				{name: ow + ":heat", unit: "/", at: arrived, value: 1, kind: labelV},
				{name: ow + ":fan", unit: "/", at: arrived, value: 0, kind: labelV},
			}},
		{"5.1.7 lights", []byte(`[
			{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},
			{"n":"2001:db8::4","v":0.5},
			{"n":"2001:db8::3","t":0.1,"v":0},
			{"n":"2001:db8::4","t":0.1,"v":0}]`),
			[]line{
				{name: "2001:db8::3", unit: "/", at: at, value: 0.5, kind: labelV},
				{name: "2001:db8::4", unit: "/", at: at, value: 0.5, kind: labelV},
				{name: "2001:db8::3", unit: "/", at: at + 100_000, kind: labelV},
				{name: "2001:db8::4", unit: "/", at: at + 100_000, kind: labelV},
			}},
	} {
		compare(t, c.section, resolveAll(t, c.body), c.want)
	}
}

func compare(t *testing.T, section string, got, want []line) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("section %s: got %d records, want %d", section, len(got), len(want))
	}
	for i := range want {
		t.Logf("RFC 8428 section %s record %d: expected %v, got %v", section, i+1, want[i], got[i])
		if got[i] != want[i] {
			t.Errorf("section %s record %d: got %v, want %v", section, i+1, got[i], want[i])
		}
	}
}

// The bounds of RFC 8428 section 4.5.3 and of RFC 9100 section 2.
func TestPublishedBounds(t *testing.T) {
	for _, c := range []struct {
		bt   float64
		want reading.Instant
	}{
		{0, arrived},
		{-5, arrived - 5_000_000},
		{268435455, arrived + 268435455_000000},
		{1276020076.001, 1276020076_001000},
	} {
		res := resolver{opt: Options{Arrived: arrived}, bt: c.bt}
		got, err := res.time(0)
		t.Logf("time %.3f s, RFC 8428 section 4.5.3: expected %s, got %s", c.bt, c.want, got)
		if err != nil || got != c.want {
			t.Errorf("%.3f: got %s, %v", c.bt, got, err)
		}
	}
	for v, want := range map[float64]bool{
		1: true, 5: true, 10: true, 16: true, 18: true, 24: true, 26: true,
		0: false, 11: false, 15: false, 25: false, 27: false, 42: false, 58: false, 5.5: false, -1: false, math.Inf(1): false,
	} {
		t.Logf("bver %g, RFC 9100 section 2: expected known %t, got %t", v, want, known(v))
		if known(v) != want {
			t.Errorf("bver %g: got %t", v, known(v))
		}
	}
}
