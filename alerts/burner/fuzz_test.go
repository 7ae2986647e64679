package burner_test

import (
	"encoding/binary"
	"math"
	"testing"
	"time"

	"heaterd/alerts/burner"
	"heaterd/ingest/reading"
)

// FuzzApply folds any samples: the bounds stay in order and within the time
// that passed, and the counts only grow.
func FuzzApply(f *testing.F) {
	f.Add([]byte{60, 0, 3, 1, 0, 0, 60, 0, 3, 1, 60, 0, 60, 0, 3, 0, 90, 0})
	f.Add([]byte{60, 0, 3, 1, 255, 255, 60, 0, 3, 1, 60, 0, 255, 255, 1, 0, 0, 0, 1, 0, 2, 0, 7, 0})
	f.Fuzz(func(t *testing.T, raw []byte) {
		var s burner.State
		o := burner.DefaultOptions()
		now, burns := t0, 0
		for ; len(raw) >= 6; raw = raw[6:] {
			now = now.AddSeconds(float64(binary.LittleEndian.Uint16(raw)))
			x := reading.Sample{At: now, Has: reading.Quantity(raw[2]), On: reading.Quantity(raw[3]) & reading.Quantity(raw[2])}
			if x.Carries(reading.Runtime) {
				x.Runtime = float64(binary.LittleEndian.Uint16(raw[4:]))
			}
			out, n := s.Apply(x, time.Minute, t0, &o)
			for _, b := range out[:n] {
				burns++
				if b.End < b.Start || b.EndLow > b.EndHigh || b.Seconds < 0 || b.End > now {
					t.Fatalf("%+v", b)
				}
			}
			h := s.HoursAt(now)
			if math.IsNaN(h.Hours) || h.Low < 0 || h.Low > h.Hours || h.Hours > h.High || h.High*3600 > now.Seconds(t0)+1e-6 {
				t.Fatalf("%+v after %v s", h, now.Seconds(t0))
			}
			if h.Burns != burns {
				t.Fatalf("%d burns counted, %d given", h.Burns, burns)
			}
		}
	})
}
