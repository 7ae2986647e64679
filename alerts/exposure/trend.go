package exposure

import (
	"math"

	"heaterd/ingest/reading"
)

// How the course of the concentration is judged. Common practice, no source,
// except the dead-band.
const (
	trendMemoryMin  = 6.0  // min in which an old reading loses 63 % of its weight
	trendMemoryGaps = 4.0  // × the expected interval: memory of a slow node
	trendEnough     = 2.8  // sum of weights below which there is no trend: about four readings
	trendSureness   = 3.0  // × its standard error: a slope that counts
	trendDeadPPM    = 3.0  // ppm over the memory: less is noise (NIOSH 6604: detects 1 ppm, ±6 %; read in a secondary text)
	trendNoisePPM   = 0.5  // ppm, scatter assumed where the readings show less
	dampingMin      = 30.0 // min in which a slope flattens, like air at 2 changes per hour
	briskMin        = 0.5  // min in which what the last steps tell loses 63 % of its weight
	briskDead       = 2.0  // ppm per min by which the last steps may be steeper by noise alone: 1 ppm in 30 s
	jumpPPM         = 40.0 // ppm above the minutes before by which a step is no scatter: twice the lowest of the limits that ship
	jumpAloneMin    = 3.0  // min between readings from which one of them tells a jump by itself
	jumpEnough      = 0.5  // sum of weights of the minutes before
)

// trend is a least-squares line through the recent readings, older ones
// counting less. Times are minutes before the newest reading.
type trend struct {
	S0, S1, S2 float64 // sums of weight, weight·x, weight·x²
	Y0, Y1, YY float64 // sums of weight·y, weight·x·y, weight·y²
	At         reading.Instant
	Span       float64 // min since the first reading that still counts
	Memory     float64 // min
	Brisk      float64 // ppm per min by the last steps alone
	Newest     float64 // ppm, the newest reading
	Before     float64 // ppm, the one before
	Step       float64 // min between the two
}

func (t *trend) add(at reading.Instant, ppm, within float64) {
	t.Memory = max(trendMemoryMin, trendMemoryGaps*within/secondsPerMinute)
	if t.S0 > 0 {
		dt := minutes(at, t.At)
		t.Before, t.Step = t.Newest, dt
		t.Brisk += (1 - math.Exp(-dt/briskMin)) * ((ppm-t.Newest)/dt - t.Brisk)
		t.age(dt)
	}
	t.At, t.Newest = at, ppm
	t.S0++
	t.Y0 += ppm
	t.YY += ppm * ppm
}

// age moves the origin dt minutes on and lets the old weights fade.
func (t *trend) age(dt float64) {
	if dt > 5*t.Memory {
		*t = trend{Memory: t.Memory}
		return
	}
	w := t.fade(dt)
	t.S2 = w * (t.S2 - 2*dt*t.S1 + dt*dt*t.S0)
	t.S1 = w * (t.S1 - dt*t.S0)
	t.Y1 = w * (t.Y1 - dt*t.Y0)
	t.S0, t.Y0, t.YY = w*t.S0, w*t.Y0, w*t.YY
	t.Span += dt
}

// faded is what fade gives at whole seconds for the shortest memory: readings
// mostly come whole seconds apart.
var faded = func() (f [121]float64) {
	for s := range f {
		f[s] = math.Exp(-(float64(s) / secondsPerMinute) / trendMemoryMin)
	}
	return f
}()

// fade gives the share of its weight that a reading keeps for dt minutes.
func (t *trend) fade(dt float64) float64 {
	s := uint(dt*secondsPerMinute + 0.5)
	if t.Memory == trendMemoryMin && s < uint(len(faded)) && float64(s)/secondsPerMinute == dt {
		return faded[s]
	}
	return math.Exp(-dt / t.Memory)
}

// line is a fitted course: level now, slope, and whether the slope stands
// out from the noise.
type line struct {
	level float64 // ppm
	slope float64 // ppm per min
	sure  bool
}

func (t *trend) fit() line {
	d := t.S0*t.S2 - t.S1*t.S1
	if t.S0 < trendEnough || d <= 0 {
		return line{level: t.Y0 / max(t.S0, 1)}
	}
	l := line{slope: (t.S0*t.Y1 - t.S1*t.Y0) / d}
	l.level = (t.Y0 - l.slope*t.S1) / t.S0
	if rise := l.slope * min(t.Span, t.Memory); !(math.Abs(rise) >= trendDeadPPM) {
		return l
	}
	rest := max(t.YY-l.level*t.Y0-l.slope*t.Y1, 0)
	noise := max(rest/max(t.S0-2, 0.5), trendNoisePPM*trendNoisePPM)
	se := math.Sqrt(noise * t.S0 / d)
	l.sure = math.Abs(l.slope) >= trendSureness*se
	return l
}

// steeper gives the course of a line that rises, as steep as the last steps are
// where those are steeper: a line through the minutes before too lags behind air
// that began to fill just now, and promised three times as long as there was.
func (t *trend) steeper(l line) line {
	if b := t.Brisk - briskDead; l.sure && l.slope > 0 && b > l.slope {
		l.slope, l.level = b, max(l.level, t.Newest)
	}
	return l
}

// jump gives the course of a rise so steep that the line through the minutes before
// cannot tell it yet: that of the last step alone. Of readings that come often, two
// must have risen: one alone may be none of the air's.
func (t *trend) jump() line {
	if t.Newest < jumpPPM || t.Newest <= t.Before {
		return line{}
	}
	w := t.fade(t.Step)
	usual := (t.Y0 - t.Newest - w*t.Before) / (t.S0 - 1 - w)
	rose := t.Newest - usual
	if t.Step < jumpAloneMin {
		rose = min(rose, t.Before-usual)
	}
	enough := t.S0-1-w >= jumpEnough
	return line{level: t.Newest, slope: t.Brisk - briskDead, sure: enough && rose >= jumpPPM}
}

// ahead gives the concentration x minutes on: the slope flattens with
// dampingMin, so the course settles at level + slope·dampingMin.
func (l line) ahead(x float64) float64 {
	return max(l.level+l.slope*dampingMin*(1-math.Exp(-x/dampingMin)), 0)
}

// until gives the minutes until the course reaches ppm; false where it never
// does.
func (l line) until(ppm float64) (float64, bool) {
	if l.level >= ppm {
		return 0, true
	}
	share := (ppm - l.level) / (l.slope * dampingMin)
	if l.slope <= 0 || share >= 1 {
		return 0, false
	}
	return -dampingMin * math.Log1p(-share), true
}
