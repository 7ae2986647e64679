package store

import (
	"testing"

	"heaterd/ingest/reading"
)

// FuzzDecode: any bytes decode or are refused, and what decodes comes back the
// same after another round.
func FuzzDecode(f *testing.F) {
	f.Add(appendSamples(nil, 0, []reading.Sample{{At: 5, Has: reading.Flame | reading.CO, CO: 1.5}, {At: 1e7, Has: reading.Runtime, Runtime: 1e300}}))
	f.Add([]byte{1, 200, 1, 1})
	f.Fuzz(func(t *testing.T, b []byte) {
		c := cursor{b: b}
		first := c.samples(nil, 0)
		if c.err != nil {
			if len(first) != 0 {
				t.Fatal("samples in spite of an error")
			}
			return
		}
		again := cursor{b: appendSamples(nil, 0, first)}
		second := again.samples(nil, 0)
		if again.err != nil || len(first) != len(second) {
			t.Fatalf("%v: %d samples became %d", again.err, len(first), len(second))
		}
		for i := range first {
			if first[i].At != second[i].At || first[i].Has != second[i].Has {
				t.Fatalf("%+v became %+v", first[i], second[i])
			}
		}
	})
}
