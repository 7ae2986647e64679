package exposure

import (
	"math"
	"time"

	"heaterd/alerts/trust"
	"heaterd/ingest/reading"
)

// How missing readings are treated. Common practice, no source.
const (
	GapFactor        = 1.5             // × the expected interval: longer without a reading is a gap
	GapHeldSeconds   = ShiftSeconds    // s of a gap that count at the higher neighbour; the longest window, so that nothing older matters
	LongestInterval  = time.Hour       // an expected interval above it is taken as this
	DefaultInterval  = 2 * time.Minute // expected interval where none is known
	washoutSeconds   = 24 * 3600       // s without readings, after the held part, until the dose estimate begins anew
	stepMicros       = shortWidth * microPerSec
	secondsPerMinute = 60
)

// Sensor is the CO record of one node: peak, sliding averages, dose estimate
// and trend. The zero value is an empty record for Heavy activity.
//
// Between two readings the concentration is taken as a straight line: for
// readings every 30 or 120 s of air that changes with the room's time
// constant that is closest to the true integral, where holding the earlier
// value lags by half an interval.
type Sensor struct {
	First    reading.Instant // first reading
	Last     reading.Instant // newest reading
	LastPPM  float64         // as sent, negative is zero drift
	Doubted  bool            // set by the caller: what is read counts, and is no measurement
	PeakPPM  float64         // highest single reading, 0 where all were negative
	LowPPM   float64         // lowest single reading as sent, 0 or below shows zero drift
	Count    int64           // readings
	Within   float64         // expected interval at the newest reading, s
	Measured float64         // time covered by readings, s
	Bound    float64         // share of haemoglobin bound to CO now, 0 to 1
	Highest  highest
	Activity uint8
	Every    trust.Cadence
	Trend    trend
	Short    shortWindow
	Shift    shiftWindow
}

// highest are the highest figures of a record.
type highest struct {
	Short float64 // ppm, 15 min
	Shift float64 // ppm, 8 h
	Bound float64 // share of haemoglobin
}

// NewSensor gives an empty record whose dose estimate assumes the activity.
func NewSensor(a Activity) Sensor {
	return Sensor{Activity: activityCode(a), Bound: StartPercent / 100}
}

// Apply adds one reading. ppm is the concentration as sent; a negative one
// counts as zero in every average and in the dose, and one below
// trust.DriftPPM, which no air explains, as missing: the sensor may read too
// low by as much, and must not make the air look safer than none. within is
// the interval the caller expects between readings, 0 where it has no idea. A
// reading that is not after the newest one, lies outside the years 1970 to
// 9999 or is not a number is passed over.
func (s *Sensor) Apply(at reading.Instant, ppm float64, within time.Duration) {
	ppm, ok := plausible(ppm)
	if !ok || at < 0 || at > latest || s.Count > 0 && at <= s.Last || ppm < trust.DriftPPM {
		return
	}
	if s.Count == 0 {
		s.begin(at, ppm)
	} else {
		s.join(at, ppm)
	}
	s.Last, s.LastPPM = at, ppm
	s.PeakPPM = max(s.PeakPPM, ppm)
	s.LowPPM = min(s.LowPPM, ppm)
	s.Count++
	s.Within = s.expected(at, within)
	s.Trend.add(at, ppm, s.Within)
}

// pureCO is the most there can be, ppm.
const pureCO = 1e6

// latest is the last second of the year 9999, the last that RFC 3339 writes.
const latest reading.Instant = 253402300799 * microPerSec

// plausible brings a concentration into what arithmetic can take; false
// where it is not a number.
func plausible(ppm float64) (float64, bool) {
	return min(max(ppm, -pureCO), pureCO), !math.IsNaN(ppm) && !math.IsInf(ppm, 0)
}

// expected gives the interval to count on, s: the longer of what the caller
// expects of the node and of how often this sensor's readings came, since a
// node may send CO less often than its flame. Until that is learned it is no
// shorter than DefaultInterval.
func (s *Sensor) expected(at reading.Instant, within time.Duration) float64 {
	s.Every.Observe(at)
	own, ok := s.Every.Learned()
	if !ok {
		own = DefaultInterval
	}
	return min(max(within, own), LongestInterval).Seconds()
}

func (s *Sensor) begin(at reading.Instant, ppm float64) {
	s.First, s.LowPPM = at, ppm
	s.Bound = max(s.Bound, StartPercent/100)
	s.Highest.Bound = max(s.Highest.Bound, s.Bound)
	s.roll(at)
}

// join accounts for the time between the newest reading and the next one.
func (s *Sensor) join(at reading.Instant, ppm float64) {
	a, b := max(s.LastPPM, 0), max(ppm, 0)
	if at.Seconds(s.Last) <= GapFactor*s.Within {
		s.run(s.Last, at, a, b, true)
		return
	}
	if at.Seconds(s.Last) <= GapHeldSeconds {
		a = max(a, b)
	}
	s.cross(at, a)
}

// cross accounts for a gap from the newest reading to to, with ppm held.
func (s *Sensor) cross(to reading.Instant, ppm float64) {
	seen := min(to, s.Last.AddSeconds(s.Within))
	held := min(to, s.Last.AddSeconds(GapHeldSeconds))
	s.run(s.Last, min(seen, held), ppm, ppm, true)
	s.run(seen, held, ppm, ppm, false)
	s.blank(held, to)
}

// run integrates a straight line of concentration from a to b ppm, cut at
// the edges of the short bins.
func (s *Sensor) run(from, to reading.Instant, a, b float64, seen bool) {
	r := activities[s.Activity%uint8(len(activities))]
	slope := 0.0
	if to > from {
		slope = (b - a) / to.Seconds(from)
	}
	for t := from; t < to; {
		e := min((t/stepMicros+1)*stepMicros, to)
		dt := e.Seconds(t)
		ppm := max(a+slope*(t.Seconds(from)+dt/2), 0)
		s.Bound = r.step(s.Bound, ppm, dt/secondsPerMinute)
		s.put(e, ppm*dt, dt, seen)
		t = e
	}
}

// put books a piece that ends at e, notes the highest figures there and
// opens the next bins.
func (s *Sensor) put(e reading.Instant, dose, dt float64, seen bool) {
	got := 0.0
	if seen && !s.Doubted {
		got = dt
	}
	s.Measured += got
	s.Short.Tally.add(dose, got)
	s.Shift.Tally.add(dose, got)
	s.Highest.note(s.now(e))
	s.roll(e)
}

// now gives the figures at e, an instant in the open bins or on their edge.
func (s *Sensor) now(e reading.Instant) highest {
	return highest{
		Short: s.Short.average(int64(e)),
		Shift: s.Shift.average(int64(e)),
		Bound: s.Bound,
	}
}

func (h *highest) note(o highest) {
	h.Short = max(h.Short, o.Short)
	h.Shift = max(h.Shift, o.Shift)
	h.Bound = max(h.Bound, o.Bound)
}

func (s *Sensor) roll(e reading.Instant) {
	if s.Short.Tally.full(int64(e), shortWidth) {
		s.Short.ring().roll(int64(e))
	}
	if s.Shift.Tally.full(int64(e), shiftWidth) {
		s.Shift.ring().roll(int64(e))
	}
}

// blank accounts for the part of a gap that is too far from any reading to
// stand for it: no exposure, and after washoutSeconds a new dose estimate.
func (s *Sensor) blank(from, to reading.Instant) {
	if to <= from {
		return
	}
	r := activities[s.Activity%uint8(len(activities))]
	left := to.Seconds(from)
	if left > washoutSeconds {
		s.Bound = StartPercent / 100
	} else {
		for ; left > 0; left -= shortWidth {
			s.Bound = r.step(s.Bound, 0, min(left, shortWidth)/secondsPerMinute)
		}
	}
	s.roll(to)
}
