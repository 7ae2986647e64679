package chart

import (
	"math"
	"time"

	"heaterd/ingest/reading"
)

// tick is a labelled instant of the time axis.
type tick struct {
	at    reading.Instant
	label string
	major bool // a day begins
}

// clockSteps are the distances between ticks within a day, in hours of the
// clock.
var clockSteps = []int{1, 2, 3, 4, 6, 12}

// daySteps are the distances between ticks of whole days.
var daySteps = []int{1, 2, 7, 14, 28, 56}

// ticks gives the labelled instants: whole hours or days by the clock of the
// zone, at most about so many.
func (c *Chart) ticks() []tick {
	most := max(3, int((c.width()-marginLeft)/70))
	hours := c.To.Sub(c.From).Hours()
	for _, step := range clockSteps {
		if hours/float64(step) <= float64(most) {
			return c.clockTicks(step)
		}
	}
	for _, step := range daySteps {
		if hours/24/float64(step) <= float64(most) {
			return c.dayTicks(step)
		}
	}
	return c.dayTicks(daySteps[len(daySteps)-1])
}

// clockTicks walks the clock of the zone. An hour that a clock change skips
// has no tick, unless a day begins with it; one that comes twice has its first.
func (c *Chart) clockTicks(step int) []tick {
	var out []tick
	from := c.From.Time().In(c.zone())
	y, m, d := from.Date()
	for n := 0; ; n++ {
		for h := 0; h < 24; h += step {
			at := reading.AtClock(y, m, d+n, time.Duration(h)*time.Hour, c.zone())
			if at > c.To {
				return out
			}
			t := at.Time().In(c.zone())
			if at < c.From || t.Hour() != h && h != 0 {
				continue
			}
			out = append(out, tick{at, clockLabel(t, h == 0), h == 0})
		}
	}
}

func clockLabel(t time.Time, begins bool) string {
	if begins {
		return t.Format("Mon 2 Jan")
	}
	return t.Format("15:04")
}

func (c *Chart) dayTicks(step int) []tick {
	var out []tick
	y, m, d := c.From.Time().In(c.zone()).Date()
	for n := 1; ; n += step {
		at := reading.AtClock(y, m, d+n, 0, c.zone())
		if at > c.To {
			return out
		}
		out = append(out, tick{at, at.Time().In(c.zone()).Format("2 Jan"), true})
	}
}

// ZoneName names the zone as people know it, with every abbreviation in
// force between two instants.
func ZoneName(zone *time.Location, from, to reading.Instant) string {
	if zone == nil {
		zone = time.UTC
	}
	first, last := from.Time().In(zone).Format("MST"), to.Time().In(zone).Format("MST")
	name := first
	if last != first {
		name = first + ", then " + last
	}
	if zone.String() == name {
		return name
	}
	return name + " (" + zone.String() + ")"
}

// scale is the vertical axis of a panel.
type scale struct {
	low, high, step float64
	top, bottom     float64 // of the drawing
}

// fitScale chooses round bounds that hold all values.
func fitScale(low, high, least, top, bottom float64) scale {
	if high-low < least {
		high = low + least
	}
	step := roundStep((high - low) / 4)
	return scale{math.Floor(low/step) * step, math.Ceil(high/step) * step, step, top, bottom}
}

// roundStep gives 1, 2 or 5 times a power of ten, at least v.
func roundStep(v float64) float64 {
	base := math.Pow(10, math.Floor(math.Log10(max(v, 1e-6))))
	for _, f := range []float64{1, 2, 5} {
		if base*f >= v-1e-12 {
			return base * f
		}
	}
	return base * 10
}

// firstTick is the lowest round value on the scale.
func (s scale) firstTick() float64 { return math.Ceil(s.low/s.step-1e-9)*s.step + 0 }

func (s scale) y(v float64) float64 {
	share := (v - s.low) / max(s.high-s.low, 1e-9)
	return s.bottom - min(max(share, 0), 1)*(s.bottom-s.top)
}
