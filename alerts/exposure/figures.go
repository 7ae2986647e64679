package exposure

import "heaterd/ingest/reading"

// Figures are what a record says at one instant. The averages and the dose
// include the missing stretches at the worse end; the coverages say how much
// was measured.
type Figures struct {
	At     reading.Instant
	PPM    float64 // newest reading as sent, ppm
	Silent bool    // no reading for longer than GapFactor × the expected interval
	Peak   float64 // highest single reading, ppm
	Lowest float64 // lowest single reading as sent, ppm

	TWA15PPM    float64 // average of the last 15 min, ppm
	TWA8hPPM    float64 // average of the last 8 h, ppm
	COHbPercent float64 // estimate for a person there at the site's activity, %

	HighTWA15PPM    float64 // highest of the record
	HighTWA8hPPM    float64
	HighCOHbPercent float64

	Coverage    float64 // measured share of the time since the first reading, 0 to 1
	Coverage15  float64 // measured share of the last 15 min
	Coverage8h  float64 // measured share of the last 8 h
	SpanSeconds float64 // time since the first reading, s
	SeenSeconds float64 // measured part of it, s
}

// Empty reports whether the record has no reading.
func (s *Sensor) Empty() bool { return s.Count == 0 }

// At gives the figures at now, which is the newest reading or later. Since
// the newest reading its value is held. In a silence the averages and the
// dose never fall, and after GapHeldSeconds they stand still.
func (s *Sensor) At(now reading.Instant) Figures {
	if s.Empty() {
		return Figures{At: now}
	}
	c, silent := s.extended(now)
	f := c.figures(now)
	if silent {
		f.raise(c.Highest)
	}
	c.Highest.note(s.Highest)
	f.Silent = silent
	f.HighTWA15PPM, f.HighTWA8hPPM = c.Highest.Short, c.Highest.Shift
	f.HighCOHbPercent = 100 * c.Highest.Bound
	return f
}

// extended gives a copy with the newest reading held up to now, whose
// Highest covers only the time since that reading.
func (s *Sensor) extended(now reading.Instant) (c Sensor, silent bool) {
	c = *s
	now = max(now, s.Last)
	c.Highest = s.now(s.Last)
	ppm := max(s.LastPPM, 0)
	silent = now.Seconds(s.Last) > GapFactor*s.Within
	if silent {
		c.cross(min(now, s.Last.AddSeconds(GapHeldSeconds)), ppm)
	} else {
		c.run(s.Last, now, ppm, ppm, true)
	}
	return c, silent
}

func (s *Sensor) figures(now reading.Instant) Figures {
	end := min(now, s.Last.AddSeconds(GapHeldSeconds)) // as far as the windows were rolled
	end = max(end, s.Last)
	h := s.now(end)
	span := max(now, s.Last).Seconds(s.First)
	f := Figures{
		At: now, PPM: s.LastPPM, Peak: s.PeakPPM, Lowest: s.LowPPM,
		TWA15PPM: h.Short, TWA8hPPM: h.Shift, COHbPercent: 100 * h.Bound,
		Coverage: 1, SpanSeconds: span, SeenSeconds: s.Measured,
		Coverage15: s.Short.ring().coverage(int64(end)),
		Coverage8h: s.Shift.ring().coverage(int64(end)),
	}
	if span > 0 {
		f.Coverage = min(s.Measured/span, 1)
	}
	return f
}

func (f *Figures) raise(h highest) {
	f.TWA15PPM = max(f.TWA15PPM, h.Short)
	f.TWA8hPPM = max(f.TWA8hPPM, h.Shift)
	f.COHbPercent = max(f.COHbPercent, 100*h.Bound)
}

// Worst takes over what is worse by another record of the same air, each
// average and the dose with the coverage it has there.
func (f *Figures) Worst(o *Figures) {
	worse(&f.TWA15PPM, &f.Coverage15, o.TWA15PPM, o.Coverage15)
	worse(&f.TWA8hPPM, &f.Coverage8h, o.TWA8hPPM, o.Coverage8h)
	worse(&f.COHbPercent, &f.Coverage, o.COHbPercent, o.Coverage)
	f.PPM, f.Peak, f.Lowest = max(f.PPM, o.PPM), max(f.Peak, o.Peak), min(f.Lowest, o.Lowest)
	f.HighTWA15PPM, f.HighTWA8hPPM = max(f.HighTWA15PPM, o.HighTWA15PPM), max(f.HighTWA8hPPM, o.HighTWA8hPPM)
	f.HighCOHbPercent = max(f.HighCOHbPercent, o.HighCOHbPercent)
	f.SpanSeconds, f.SeenSeconds = max(f.SpanSeconds, o.SpanSeconds), max(f.SeenSeconds, o.SeenSeconds)
	f.Silent = f.Silent && o.Silent
}

// worse takes the higher value with its coverage; of equal ones the coverage
// that is better.
func worse(value, coverage *float64, other, covered float64) {
	if other > *value || other == *value && covered > *coverage {
		*value, *coverage = other, covered
	}
}
