package warmth

import (
	"math"
	"time"

	"heaterd/ingest/reading"
)

// How a course is read. Common practice, no source.
const (
	blockMicros   = 300 * 1_000_000 // µs of readings that make one mean
	courseBlocks  = 36              // means that are kept: 3 h
	courseGap     = 900             // s without a temperature that break a course off
	courseSteeper = 4.0             // × the scatter of the means about their line: a fall that is none of theirs
	courseTau     = 6.0             // h, time constant of a fall where none is known, or a longer one
	courseReach   = 2.0             // × the fall that is seen: so far ahead it is told
	courseHolds   = 0.5             // share of its rate at which the last third of a fall must go on
)

// spans are the stretches over which a course is looked at, shortest first,
// each with the fall that counts in it: a door that stands open for a delivery
// cools a space fast, but not for long.
var spans = [...]struct {
	blocks int
	fallC  float64 // °C
}{{12, 0.8}, {24, 0.6}, {36, 0.6}}

// Course is how the temperature of a space goes while what heats it stays as it
// is. The saw-tooth of a thermostat is no course: it begins anew at every flame.
// The zero value knows nothing.
type Course struct {
	Regime uint64          // what heats the space and what tells of it
	From   reading.Instant // since when; 0: nothing was noted
	At     reading.Instant // newest note
	Bin    int64           // number of the open block since 1970
	Sum    float64         // of the notes in it, °C
	N      int32
	Next   uint8 // place of the next mean
	Count  uint8
	Mean   [courseBlocks]float32 // °C, a ring
}

// Note takes the temperature of the space at an instant. The regime is any
// number that is another whenever something else heats the space, or tells of it.
func (c *Course) Note(at reading.Instant, tempC float64, regime uint64) {
	if c.From == 0 || regime != c.Regime || at < c.At || at.Seconds(c.At) > courseGap {
		*c = Course{Regime: regime, From: at, Bin: int64(at) / blockMicros}
	}
	if bin := int64(at) / blockMicros; bin != c.Bin {
		c.close(at)
		c.Bin = bin
	}
	c.At = at
	c.Sum += tempC
	c.N++
}

// close keeps the mean of the open block, unless the air had to settle in it.
func (c *Course) close(at reading.Instant) {
	if c.N > 0 && at.Seconds(c.From) > settleSeconds+blockMicros/1e6 {
		c.Mean[c.Next] = float32(c.Sum / float64(c.N))
		c.Next = (c.Next + 1) % courseBlocks
		c.Count = min(c.Count+1, courseBlocks)
	}
	c.Sum, c.N = 0, 0
}

// Fall is a space that cools, by a line through the means of its course.
type Fall struct {
	FromC, ToC     float64 // °C, the ends of the line
	Over           time.Duration
	Rate, Low, Top float64 // °C/h: likely, and the least and most that fit
}

// Falls gives the fall that is going on and leads to a limit, over the shortest
// stretch that shows one; false where none does. How far it goes on is not told
// further ahead than courseReach of what it fell.
func (c *Course) Falls(limitC float64) (Fall, bool) {
	for _, s := range spans {
		if int(c.Count) < s.blocks {
			break
		}
		if float64(c.mean(s.blocks-1)-c.mean(0)) < s.fallC/2 {
			continue // cheap, and true at most looks
		}
		l := c.line(s.blocks)
		fell := l.Rate * l.Over.Hours()
		last := -c.line(s.blocks / 3).slope
		if fell < s.fallC || fell < courseSteeper*l.scatter || last < courseHolds*l.Rate || l.ToC-limitC > courseReach*fell {
			continue
		}
		l.Low, l.Top = min(l.Low, last), max(l.Top, last)
		return l.Fall, true
	}
	return Fall{}, false
}

// mean gives the one so many blocks before the newest.
func (c *Course) mean(before int) float32 {
	return c.Mean[(int(c.Next)+courseBlocks-1-before)%courseBlocks]
}

type line struct {
	Fall
	slope   float64 // °C/h
	scatter float64 // °C
}

// line is the one through the newest n means.
func (c *Course) line(n int) line {
	const step = blockMicros / 3.6e9 // h
	var x, y, xx, xy, yy float64
	for i := range n {
		v := float64(c.mean(n - 1 - i))
		t := float64(i) * step
		x, y, xx, xy, yy = x+t, y+v, xx+t*t, xy+t*v, yy+v*v
	}
	k := float64(n)
	sxx, sxy, syy := xx-x*x/k, xy-x*y/k, yy-y*y/k
	slope := sxy / sxx
	scatter := math.Sqrt(max(syy-slope*sxy, 0) / max(k-2, 1))
	off := 4 * scatter / math.Sqrt(sxx) // two standard errors, twice: neighbours are alike
	end := y/k + slope*(k-1)/2*step
	return line{
		Fall: Fall{
			FromC: end - slope*(k-1)*step, ToC: end, Over: time.Duration((k - 1) * step * float64(time.Hour)),
			Rate: -slope, Low: -slope - off, Top: -slope + off,
		},
		slope: slope, scatter: scatter,
	}
}

// To gives the hours until the space is down to limitC at this course, cooling
// ever more slowly, as a body does while what heats it, and the weather, stay as
// they are. Early is a straight line at the most that fits.
func (f Fall) To(limitC float64, e Envelope, known bool) Outlook {
	o := Outlook{Cooling: true}
	if f.ToC <= limitC {
		return o
	}
	tau, low := courseTau, courseTau
	if known {
		tau, low = min(tau, e.TauHours), min(tau, e.TauLow)
	}
	o.Early = (f.ToC - limitC) / f.Top
	var ever bool
	o.Likely, ever = HoursTo(f.ToC, f.ToC-f.Rate*tau, limitC, tau)
	o.LikelyNever = !ever
	o.Late, ever = HoursTo(f.ToC, f.ToC-f.Low*low, limitC, low)
	o.LateNever = !ever
	return o
}

// Turned reports whether the course is seen to lead away from a limit, or not to
// come to it within some hours.
func (c *Course) Turned(limitC, withinH float64) bool {
	n := min(int(c.Count), 12)
	if n < 6 {
		return false
	}
	l := c.line(n)
	return l.ToC > limitC && (l.Rate <= 0 || (l.ToC-limitC)/l.Rate > withinH)
}
