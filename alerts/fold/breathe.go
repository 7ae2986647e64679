package fold

import (
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// breathe takes a reading of CO. Of a sensor that plunges to zero what it read
// before counts, which is no measurement, and is held from there.
func (w *Witness) breathe(x *reading.Sample, expected time.Duration) {
	w.Air.Doubted = w.Cell.Stuck()
	lit := w.Known.Lit()
	if x.Carries(reading.Flame) {
		lit = x.Lit()
	}
	w.Cell.Apply(x.At, x.CO, lit)
	before, plunges := w.Cell.Plunge()
	switch {
	case plunges:
		w.Air.Doubted = true
		w.Air.Apply(x.At, float64(before), expected)
	case w.Cell.Measures():
		w.Air.Apply(x.At, float64(x.CO), expected)
	}
}

// lastPPM is the last CO that is a measurement, and when it was.
func (w *Witness) lastPPM() (ppm float64, at reading.Instant) {
	if !w.Cell.Measures() && w.Air.Count > 0 {
		return w.Air.LastPPM, w.Air.Last
	}
	return float64(w.Known.CO), w.Known.COAt
}

// verify takes the word of a person who verified the sensor: a known
// concentration that is taken away looks like one that dies in bad air, and its
// zero is set anew.
func (w *Witness) verify(m mark) {
	if w.Cell.Verifiable() && slices.Contains(closes(m.Entry), sensorCheck) {
		w.Cell.Verified = m.N
	}
}

// doubtAgain takes back what an entry told of the sensor.
func (w *Witness) doubtAgain(n int64) {
	if w.Cell.Verified == n {
		w.Cell.Verified = 0
	}
}
