package shutdown

import (
	"math"
	"slices"
	"time"

	"heaterd/alerts/burner"
	"heaterd/alerts/fleet"
)

// Pace is how fast a heater's space warms and cools, and how long the heater
// usually burns and stays out. Readings minutes apart see the turns of a brisk
// space late, and its pace says by how much. It is a plain value; the zero
// value knows nothing.
type Pace struct {
	Rise, Fall float32 // °C/s, smoothed size of the change between readings, lit and out
	Lit, Out   Lengths // of the last burns, and of the times out after them
}

// Lengths remembers the last few lengths of time.
type Lengths struct {
	Ring [paceKept]float32 // s
	Next uint8
	N    uint8
}

// How a pace is learned. Common practice, no source.
const (
	paceKept = 7                // lengths remembered
	noiseC   = 0.2              // °C that two readings of the same air differ by: no movement
	rateOver = 10 * time.Minute // readings further apart tell no rate
	rateKept = 12.0             // changes between readings that weigh in a rate
)

// Add remembers one more.
func (l *Lengths) Add(s float64) {
	l.Ring[l.Next] = float32(s)
	l.Next = (l.Next + 1) % paceKept
	l.N = min(l.N+1, paceKept)
}

// Usual gives what most of them agree on, s: the median of the half that lies
// closest together, in proportion. A heater that failed, was switched off or
// lacked its mains stays out for longer, at no one length. It is known from so
// many on.
func (l *Lengths) Usual(from int) (s float64, known bool) {
	if l.N == 0 || int(l.N) < from {
		return 0, false
	}
	ring := l.Ring
	sorted := ring[:l.N]
	slices.Sort(sorted)
	half := len(sorted)/2 + 1
	best := sorted[:half]
	for i := 1; i+half <= len(sorted); i++ {
		if c := sorted[i : i+half]; ratio(c) < ratio(best) {
			best = c
		}
	}
	return float64(best[(half-1)/2]), true
}

// ratio is how far apart sorted lengths lie, in proportion.
func ratio(sorted []float32) float32 { return sorted[len(sorted)-1] / max(sorted[0], 1) }

// Warmed takes the change of temperature between two readings: with the flame
// lit at both, out at both, or else between.
func (p *Pace) Warmed(was, is bool, changeC float32, d time.Duration) {
	if d <= 0 || d > rateOver {
		return
	}
	rate := float32(max(0, math.Abs(float64(changeC))-noiseC) / d.Seconds())
	switch {
	case was && is:
		p.Rise += (rate - p.Rise) / rateKept
	case !was && !is:
		p.Fall += (rate - p.Fall) / rateKept
	default: // it turned between, and moved at least so fast on one side
		p.Rise += max(0, rate-p.Rise) / rateKept
		p.Fall += max(0, rate-p.Fall) / rateKept
	}
}

// What counts as usual, × the usual length. Common practice, no source.
const (
	usualLeast = 0.4
	usualMost  = 2.2
)

// usualOut reports whether a time out is as long as usual, as far as readings
// so far apart tell.
func (p *Pace) usualOut(d, apart time.Duration, o *Options) bool {
	usual, known := p.Out.Usual(o.UsualFrom)
	s, miss := d.Seconds(), apart.Seconds()/2
	return known && s >= usualLeast*usual-miss && s <= usualMost*usual+miss
}

// usualBurn reports whether a burn is no shorter than usual.
func (p *Pace) usualBurn(s float64, apart time.Duration, o *Options) bool {
	usual, known := p.Lit.Usual(o.UsualFrom)
	return known && s >= usualLeast*usual-apart.Seconds()/2
}

// Retried reports whether a heater that was lit again after so long out, at so
// many °C, was lit by its own control after a flame that failed, and not by its
// thermostat: that one asks again only once it is colder. The last reading while
// it was out was so long before.
func (p *Pace) Retried(b *burner.Burn, out, unread time.Duration, low float32, t *fleet.Thermostat, o *Options) bool {
	if t == nil || out >= o.RelightSoon {
		return false
	}
	missed := p.up(b.Gap) + p.down(max(unread, b.Gap))
	return float64(b.TempEnd-low)+missed < cooledLeast*band(t)
}

// cooledLeast is the share of a thermostat's differential by which a space that
// its heater is lit again in must have cooled. Common practice, no source.
const cooledLeast = 0.4

// up and down are how far the temperature may move unseen, °C.
func (p *Pace) up(d time.Duration) float64   { return float64(max(p.Rise, p.Fall)) * d.Seconds() }
func (p *Pace) down(d time.Duration) float64 { return float64(p.Fall) * d.Seconds() }

// missedUp is how much warmer than the warmest reading beside it the end of a
// burn may have been, °C.
func (e *Evidence) missedUp() float64 {
	return e.Pace.up(e.Burn.Gap)
}

// missedDown is how much colder than the coldest reading it may have got
// until it lit again, °C.
func (e *Evidence) missedDown() float64 {
	return e.Pace.down(max(e.LowestAge, e.Burn.Gap))
}

// Chill is the temperature below which the heater would have lit again by what
// is usual for it, °C, of readings so far apart; false where that is not known.
func (p *Pace) Chill(on Usual, apart time.Duration, o *Options) (float32, bool) {
	missed := float64(p.Fall) * apart.Seconds()
	return float32(on.C - o.slack(on) - missed), int(on.N) >= o.UsualFrom
}

// blind reports whether the temperature moves so far between readings that
// they cannot tell a satisfied thermostat from a failed flame.
func (e *Evidence) blind(o *Options) bool {
	return e.Thermostat != nil && e.missedUp()+o.UsualSlackC >= blindFrom*e.band()
}

// blindFrom is the share of the thermostat's differential that readings may
// miss before they are blind. Common practice, no source.
const blindFrom = 0.5
