package exposure

import (
	"testing"
	"time"

	"heaterd/ingest/reading"
)

// Whatever is fed, in whatever order, the figures are numbers in range and
// it ends.
func FuzzApply(f *testing.F) {
	f.Add(int64(0), 20.0, int64(30e6), -3.0, int64(1e15), 1e30, int64(30e9))
	f.Add(int64(1<<62), 1e6, int64(1), 0.0, int64(-1), -1e300, int64(-1))
	f.Fuzz(func(t *testing.T, a int64, x float64, b int64, y float64, c int64, z float64, within int64) {
		s := NewSensor(Light)
		var d Decay
		var o Source
		for _, r := range []point{{reading.Instant(a), x}, {reading.Instant(b), y}, {reading.Instant(c), z}} {
			s.Apply(r.at, r.ppm, time.Duration(within))
			d.Apply(r.at, r.ppm, within%2 == 0)
			o.Apply(r.at, r.ppm, uint8(within))
		}
		d.AirChange()
		o.Best()
		w := s.At(s.Last.Add(time.Hour))
		for _, v := range []float64{w.Peak, w.TWA15PPM, w.TWA8hPPM, w.HighTWA15PPM, w.HighTWA8hPPM} {
			if !(v >= 0 && v <= pureCO*1.000001) {
				t.Fatalf("%+v", w)
			}
		}
		if !(w.COHbPercent >= 0 && w.COHbPercent <= 95) || !(w.Coverage >= 0 && w.Coverage <= 1) {
			t.Fatalf("%+v", w)
		}
	})
}
