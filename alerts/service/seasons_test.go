package service

import (
	"math"
	"math/rand/v2"
	"time"

	"heaterd/ingest/reading"
)

// invented is one invented heater over three years: burner hours of each day
// from 1 October 2024.
type invented struct {
	kind string
	day  []float64 // h
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
	s := invented{kind: c.name + " " + mode}
	if steady {
		s.kind = "steady " + mode
	}
	place := newPlace(r)
	weather, idle, curing := 0.0, 0, 0
	weekendsOff := r.Float64() < 0.6
	summer := r.Float64() < 0.2
	for i := range 3 * 365 {
		d := inventedStart + Date(i)
		weather = 0.75*weather + c.stray*math.Sqrt(1-0.75*0.75)*r.NormFloat64()
		temp := c.mean + c.swing*math.Cos(2*math.Pi*float64(d-NewDate(2025, time.January, 20))/365.25) + weather
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
		wd := d.Weekday()
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
	return place{setpoint: 12 + 8*r.Float64(), full: 12 + 16*r.Float64(), shift: 6 + 6*r.Float64()}
}

func (p place) hours(mode string, temp float64, curing bool, r *rand.Rand) float64 {
	duty := min(1, max(0, (p.setpoint-temp)/p.full))
	switch {
	case mode == "thermostat":
		return 24 * duty
	case mode == "shifts":
		return p.shift * min(1, max(0.15, duty*1.5)) * (0.8 + 0.2*r.Float64())
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

// ask puts questions to the outlook at random moments of the first two
// seasons, with what the heater has shown until then.
func ask(seed uint64, n int, m Model, lefts []float64) (qs []question) {
	s := inventSeason(seed)
	r := rand.New(rand.NewPCG(seed, 11))
	var at []int
	for range n {
		at = append(at, 3+r.IntN(205)+365*r.IntN(2))
	}
	for _, i := range at {
		var u Use
		for k, h := range s.day[:i] {
			u.Add(inventedStart+Date(k), h)
		}
		frac := r.Float64()
		today := inventedStart + Date(i)
		u.Add(today, s.day[i]*frac)
		o := NewOutlook(&u, Facts{Now: today.Start(nil) + reading86400(frac)}, m)
		for _, h := range lefts {
			if truth, ok := s.reaches(i, frac, h); ok {
				qs = append(qs, question{s.kind, h, o.Day(h, Early), o.Day(h, Expected), o.Day(h, Late), truth})
			}
		}
	}
	return qs
}

func (s invented) reaches(i int, frac, h float64) (Date, bool) {
	sum := s.day[i] * (1 - frac)
	for k := i; ; {
		if sum >= h {
			return inventedStart + Date(k), true
		}
		if k++; k == len(s.day) {
			return 0, false
		}
		sum += s.day[k]
	}
}

// tally counts how the truth lies to the range.
type tally struct{ n, before, inside, after int }

func (t *tally) add(q question) {
	t.n++
	switch {
	case q.truth < q.early:
		t.before++
	case q.late != 0 && q.truth > q.late:
		t.after++
	default:
		t.inside++
	}
}

func (t tally) share() float64 { return float64(t.inside) / float64(t.n) }

func reading86400(frac float64) reading.Instant { return reading.Instant(frac * 86400e6) }
