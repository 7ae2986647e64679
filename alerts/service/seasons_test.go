package service

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"heaterd/ingest/jobsite"
)

// invented is one invented heater over three years: burner hours of each day
// from 1 October 2024.
type invented struct {
	kind  string
	start Date
	day   []float64 // h
}

var inventedStart = NewDate(2024, time.October, 1)

// climates, as mean and swing of the year, °C, and how far weather strays, °C
// (invented, of the size of a cold inland, a temperate and a maritime place).
var climates = []struct {
	name               string
	mean, swing, stray float64
}{
	{"inland", 4, 16, 5},
	{"temperate", 9, 9, 4},
	{"maritime", 10, 5, 3},
}

// inventSeason makes one heater up: a thermostat against the weather, shifts
// on working days, or curing day and night; with weekends off, idle weeks,
// moves to places of another heat loss, and most heaters in store in summer.
func inventSeason(seed uint64) invented {
	r := rand.New(rand.NewPCG(seed, 7))
	c := climates[r.IntN(len(climates))]
	mode := []string{"thermostat", "shifts", "curing"}[r.IntN(3)]
	steady := r.Float64() < 0.4 // one place all winter, no idle weeks
	s := invented{kind: c.name + " " + mode, start: inventedStart}
	if steady {
		s.kind = "steady " + mode
	}
	place := newPlace(r)
	weather, idle, curing := 0.0, 0, 0
	weekendsOff := r.Float64() < 0.6
	summer := r.Float64() < 0.2
	for i := range 2*365 + 212 {
		d := inventedStart + Date(i)
		weather = 0.75*weather + c.stray*math.Sqrt(1-0.75*0.75)*r.NormFloat64()
		temp := c.mean - c.swing*math.Cos(2*math.Pi*float64(d-NewDate(2025, time.January, 20))/365.25) + weather
		if r.Float64() < 1.0/60 && !steady {
			place = newPlace(r)
			idle = max(idle, 1+r.IntN(4))
		}
		if r.Float64() < 1.0/90 && !steady {
			idle = max(idle, 5+r.IntN(10))
		}
		if curing--; curing < -3 && r.Float64() < 0.25 {
			curing = 2 + r.IntN(8)
		}
		h := place.hours(mode, temp, curing > 0, r)
		wd := d.utc().Weekday()
		first, _ := DefaultSeason().window(d)
		if idle > 0 || weekendsOff && (wd == time.Saturday || wd == time.Sunday) || !summer && d < first {
			h = 0
		}
		idle--
		s.day = append(s.day, h)
	}
	return s
}

// place is where a heater stands.
type place struct {
	setpoint, full float64 // °C held, and the difference the heater can just hold, K
	shift          float64 // h
}

func newPlace(r *rand.Rand) place {
	return place{setpoint: 12 + 8*r.Float64(), full: 12 + 14*r.Float64(), shift: 6 + 6*r.Float64()}
}

func (p place) hours(mode string, temp float64, curing bool, r *rand.Rand) float64 {
	duty := min(1, max(0, (p.setpoint-temp)/p.full))
	switch {
	case mode == "thermostat":
		return 24 * duty
	case mode == "shifts":
		return p.shift * min(1, max(0.3, duty*1.3)) * (0.8 + 0.2*r.Float64())
	case curing:
		return 24 * min(1, 0.3+duty)
	default:
		return 0
	}
}

// question is one forecast asked of an invented heater and its true answer.
type question struct {
	kind             string
	left             float64
	early, due, late Date
	truth            Date
}

// fair gives the last day on which a question is fair: at 4 h a day there is time for the answer.
func (s invented) fair(left float64) int { return len(s.day) - 15 - int(left/4) }

// ask puts questions to the outlook at random moments, with what the heater
// has shown until then.
func (s invented) ask(seed uint64, n int, lefts []float64) (qs []question) {
	r := rand.New(rand.NewPCG(seed, 11))
	for range n {
		left := lefts[r.IntN(len(lefts))]
		i := s.moment(r, s.fair(left))
		var u Use
		for k, h := range s.day[:i] {
			u.Add(s.start+Date(k), h)
		}
		frac := r.Float64()
		today := s.start + Date(i)
		u.Add(today, s.day[i]*frac)
		o := newOutlook(&u, Facts{Now: today.Start(nil).AddSeconds(frac * 86400)})
		qs = append(qs, question{s.kind, left, o.day(left, earlyEnd), o.day(left, middle), o.day(left, lateEnd), s.reaches(i, frac, left)})
	}
	return qs
}

// moment draws a day of a season on which to ask: the fourth or later.
func (s invented) moment(r *rand.Rand, before int) int {
	for {
		i := 3 + r.IntN(before-3)
		first, _ := DefaultSeason().window(s.start + Date(i))
		if s.start+Date(i) >= first {
			return i
		}
	}
}

// reaches gives the true day; one beyond all others if the heater never gets
// there.
func (s invented) reaches(i int, frac, h float64) Date {
	sum := s.day[i] * (1 - frac)
	for k := i; ; {
		if sum >= h {
			return s.start + Date(k)
		}
		if k++; k == len(s.day) {
			return math.MaxInt32
		}
		sum += s.day[k]
	}
}

// fromJobsite takes a season of the jobsite model.
func fromJobsite(seed uint64) invented {
	s := invented{kind: "jobsite", start: NewDate(2025, time.October, 6)}
	for _, d := range jobsite.Season(seed) {
		s.day = append(s.day, d.Hours)
	}
	return s
}

// even makes a heater up whose demand follows the weather of a site, with or
// without a season, around its own mean: the days hang together.
func even(seasonal float64) func(seed uint64) invented {
	return func(seed uint64) invented {
		r := rand.New(rand.NewPCG(seed, 77))
		s := invented{kind: "even", start: NewDate(2025, time.October, 6)}
		mean, weekends := 4+10*r.Float64(), []float64{1, 0.3}[r.IntN(2)]
		site, own := 0.0, 0.0
		for d := range 200 {
			site, own = 0.8*site+0.35*r.NormFloat64(), 0.6*own+0.3*r.NormFloat64()
			h := mean * (1 + seasonal*math.Cos(yearTurn*float64(d-100))) / (1 + seasonal/2) * math.Exp(0.5*site+own-0.1)
			if d%7 >= 5 {
				h *= weekends
			}
			s.day = append(s.day, min(23.5, h))
		}
		return s
	}
}

// ragged makes a heater up that runs or does not, by chance, day by day, at
// the same mean all winter.
func ragged(seed uint64) invented {
	r := rand.New(rand.NewPCG(seed, 78))
	s := invented{kind: "ragged", start: NewDate(2025, time.October, 6)}
	mean, runs, weekendsOff, parts := 3+12*r.Float64(), 0.6+0.4*r.Float64(), r.IntN(2) == 0, 2+r.IntN(6)
	for d := range 200 {
		h := 0.0
		if r.Float64() < runs && !(weekendsOff && d%7 >= 5) {
			for range parts {
				h += r.ExpFloat64() * mean / float64(parts)
			}
		}
		s.day = append(s.day, min(23.5, h))
	}
	return s
}

// askSoon puts questions as a new service interval does: after one to six
// weeks of watching, what is left of an interval begun five days into them.
func (s invented) askSoon(seed uint64, n int) (qs []question) {
	r := rand.New(rand.NewPCG(seed, 12))
	for range n {
		from := r.IntN(60)
		i := from + 8 + r.IntN(35)
		left := []float64{50, 100, 200, 300}[r.IntN(4)]
		var u Use
		for k, h := range s.day[from:i] {
			u.Add(s.start+Date(from+k), h)
			if k >= 5 {
				left -= h
			}
		}
		truth := s.reaches(i, 0, left)
		if left <= 0 || truth == math.MaxInt32 {
			continue
		}
		o := newOutlook(&u, Facts{Now: (s.start + Date(i)).Start(nil)})
		qs = append(qs, question{s.kind, left, o.day(left, earlyEnd), o.day(left, middle), o.day(left, lateEnd), truth})
	}
	return qs
}

// tally counts how the truth lies to the range.
type tally struct {
	n, before, inside, after int
	width                    []int // days of the closed ranges
}

func (t *tally) add(q question) {
	t.n++
	if q.early != 0 && q.late != 0 {
		t.width = append(t.width, int(q.late-q.early)+1)
	}
	switch {
	case q.truth < q.early:
		t.before++
	case q.late != 0 && q.truth > q.late:
		t.after++
	default:
		t.inside++
	}
}

func (t tally) part(n int) float64 { return float64(n) / float64(t.n) }
func (t tally) share() float64     { return t.part(t.inside) }

// days gives the median length of the ranges.
func (t tally) days() int {
	slices.Sort(t.width)
	return t.width[len(t.width)/2]
}
