package senml

import (
	"encoding/json"
	"strings"
	"testing"
)

// sent is a record as encoding/json would read it, nothing checked.
type sent struct {
	BN, BU, N, U, VS, VD string
	BT, BV, BS, S, T, UT float64
	BVer                 int
	V                    *float64
	VB                   *bool
}

func BenchmarkDecode(b *testing.B) {
	body := []byte(four)
	b.Run("four records", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := Decode(body, Options{Arrived: arrived, Node: "n-07"}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("bare encoding json", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			var records []sent
			if err := json.Unmarshal(body, &records); err != nil {
				b.Fatal(err)
			}
		}
	})
	coded := toCBOR(b, body)
	b.Run("four records CBOR", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := Decode(coded, Options{Arrived: arrived, Node: "n-07"}); err != nil {
				b.Fatal(err)
			}
		}
	})
	long := week()
	b.Run("a week", func(b *testing.B) {
		b.ReportAllocs()
		b.SetBytes(int64(len(long)))
		for b.Loop() {
			if _, err := Decode(long, Options{Arrived: arrived, Node: "n-07"}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("a million records", func(b *testing.B) {
		hostile := []byte("[" + strings.Repeat(`{"v":1},`, 1_000_000) + "{}]")
		for b.Loop() {
			if _, err := Decode(hostile, Options{Arrived: arrived}); err == nil {
				b.Fatal("taken")
			}
		}
	})
}
