package shutdown

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// Past is a burn that has ended, as it was judged.
type Past struct {
	End    reading.Instant
	Lasted time.Duration
	Ending outcome.Ending
}

// Pattern is what several endings say together.
type Pattern struct {
	Found    bool
	N        int     // endings looked at
	P        float64 // p of the test; 1 where too few for it or none is made
	Evidence []string
	Checks   []string
}

// apart gives the unexplained endings, retries of one shutdown counted once.
// past is in order of time.
func apart(past []Past, o *Options) []Past {
	var out []Past
	var last reading.Instant
	for _, p := range past {
		if p.Ending != outcome.Unexplained {
			continue
		}
		retry := last != 0 && p.Lasted < o.ShortBurn && p.End.Sub(last) <= o.RetryWithin
		last = p.End
		if !retry {
			out = append(out, p)
		}
	}
	return out
}

// Repeating finds a heater that keeps going out: so many unexplained endings
// in a stretch, retries of one counted once. past is in order of time.
func Repeating(past []Past, now reading.Instant, o *Options) Pattern {
	n := 0
	for _, p := range apart(past, o) {
		if now.Sub(p.End) <= o.RepeatIn && p.End <= now {
			n++
		}
	}
	out := Pattern{N: n, P: 1, Found: n >= o.RepeatFrom}
	if out.Found {
		out.Evidence = []string{fmt.Sprintf("%d unexplained endings in %s", n, span(o.RepeatIn))}
		e := Evidence{}
		e.Burn.Seconds = o.ShortBurn.Seconds()
		out.Checks = append(e.ranked(o), lockout)
	}
	return out
}

// Alike tells what a heater's unexplained endings have in common.
func Alike(past []Past, zone *time.Location, o *Options) []string {
	return append(SameAge(past, o).Evidence, SameTime(past, zone, o).Evidence...)
}

// NotHolding finds a flame that is lit again and again and does not last.
func NotHolding(past []Past, now reading.Instant, o *Options) Pattern {
	n := 0
	for _, p := range past {
		if p.Ending == outcome.Unexplained && p.Lasted < o.ShortBurn && now.Sub(p.End) <= o.HoldIn && p.End <= now {
			n++
		}
	}
	out := Pattern{N: n, P: 1, Found: n >= o.HoldFrom}
	if out.Found {
		out.Evidence = []string{fmt.Sprintf("%d burns shorter than %s within %s", n, span(o.ShortBurn), span(o.HoldIn))}
		out.Checks = append((&Evidence{}).ranked(o), lockout) // a burn of no length is a short one
	}
	return out
}

// SameAge tests whether unexplained endings come at the same age of the burn,
// as overheating or a clogging filter would make them. It is Moran's test
// (also Bartlett's) of exponential ages, at the end of too much alike; the
// statistic is from memory and checked by simulation.
func SameAge(past []Past, o *Options) Pattern {
	var sum, logs float64
	n := 0
	for _, p := range apart(past, o) {
		if p.Lasted > 0 {
			n++
			sum += p.Lasted.Seconds()
			logs += math.Log(p.Lasted.Seconds())
		}
	}
	out := Pattern{N: n, P: 1}
	if n < o.PatternFrom {
		return out
	}
	f, mean := float64(n), sum/float64(n)
	stat := 2 * f * (math.Log(mean) - logs/f) / (1 + (f+1)/(6*f))
	out.P = distuv.ChiSquared{K: f - 1}.CDF(max(0, stat)) // ages all alike round to just below 0
	if out.Found = out.P < o.PatternP; out.Found {
		age := time.Duration(mean * float64(time.Second))
		out.Evidence = []string{fmt.Sprintf("%d endings at about the same age of the burn, %s (Moran's test, at least %d endings, p %.4f)", n, span(age), o.PatternFrom, out.P)}
	}
	return out
}

// SameTime tests whether unexplained endings come at the same time of day in
// the site's zone, by Rayleigh's test.
func SameTime(past []Past, zone *time.Location, o *Options) Pattern {
	var angles []float64
	for _, p := range apart(past, o) {
		angles = append(angles, dayAngle(p.End, zone))
	}
	r, mean, p := Rayleigh(angles)
	out := Pattern{N: len(angles), P: 1}
	if len(angles) < o.PatternFrom {
		return out
	}
	out.P = p
	if out.Found = p < o.PatternP; out.Found {
		minutes := int(math.Round(mean/(2*math.Pi)*24*60)) % (24 * 60)
		out.Evidence = []string{fmt.Sprintf("%d endings gather about %02d:%02d (Rayleigh test, at least %d endings, r %.2f, p %.4f)", len(angles), minutes/60, minutes%60, o.PatternFrom, r, p)}
	}
	return out
}

func dayAngle(at reading.Instant, zone *time.Location) float64 {
	h, m, s := at.Time().In(zone).Clock()
	return float64(h*3600+m*60+s) / 86400 * 2 * math.Pi
}

// Rayleigh tests angles, in radians, for gathering about one direction: the
// mean resultant length r, the mean direction from 0 to 2π and p by
// exp(√(1+4n+4(n²−R²)) − (1+2n)) with R = nr (Zar, Biostatistical Analysis,
// ch. 27). No angles give p 1.
func Rayleigh(angles []float64) (r, mean, p float64) {
	n := float64(len(angles))
	if n == 0 {
		return 0, 0, 1
	}
	var c, s float64
	for _, a := range angles {
		c += math.Cos(a)
		s += math.Sin(a)
	}
	big := math.Hypot(c, s)
	mean = math.Mod(math.Atan2(s, c)+2*math.Pi, 2*math.Pi)
	p = math.Exp(math.Sqrt(1+4*n+4*(n*n-big*big)) - (1 + 2*n))
	return big / n, mean, min(p, 1)
}
