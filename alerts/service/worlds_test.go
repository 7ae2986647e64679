package service

import (
	"math"
	"math/rand/v2"
	"testing"
)

// world is a kind of season that nothing of the forecast was made for: part
// of a winter, in days of one heater's burner hours.
type world struct {
	name        string
	make        func(*rand.Rand) invented
	least, most float64 // share of dates a week ahead and more that the range holds
}

// worlds are what the range is held to beside the seasons above. Nothing shows
// beforehand that a heater will be moved, stopped or put away.
var worlds = []world{
	{"steady", steadyWorld, 0.75, 0.94},
	{"workday", workdayWorld, 0.75, 0.92},
	{"workday, holidays", holidays, 0.72, 0.87},
	{"weather", weatherWorld, 0.75, 0.87},
	{"weather, working days", func(r *rand.Rand) invented { return weekendsOff(weatherWorld(r), 0.1) }, 0.75, 0.89},
	{"into winter", intoWinter, 0.68, 0.85},
	{"idle weeks", func(r *rand.Rand) invented { return idleWeeks(r, workdayWorld(r)) }, 0.68, 0.85},
	{"moved", func(r *rand.Rand) invented { return moved(r, workOrSteady(r)) }, 0.68, 0.85},
	{"moved, weather", func(r *rand.Rand) invented { return moved(r, weatherWorld(r)) }, 0.68, 0.85},
	{"heavy, then stored", func(r *rand.Rand) invented { return stored(r, workOrSteady(r)) }, 0.45, 0.94},
	{"stopped for a while", func(r *rand.Rand) invented { return stopped(r, workOrSteady(r)) }, 0.60, 0.85},
	{"steady, a day off now and then", func(r *rand.Rand) invented { return daysOff(r, steadyWorld(r)) }, 0.72, 0.92},
}

// days begins a world: 60 to 150 days from a day between 1 October and the
// end of January.
func days(r *rand.Rand, hours func(d Date, i int) float64) invented {
	s := invented{start: inventedStart + 365 + Date(r.IntN(120))}
	for i := range 60 + r.IntN(91) {
		s.day = append(s.day, min(24, max(0, hours(s.start+Date(i), i))))
	}
	return s
}

func weekend(d Date) bool { wd := d.utc().Weekday(); return wd == 0 || wd == 6 }

func steadyWorld(r *rand.Rand) invented {
	mean, spread := 4+18*r.Float64(), 0.02+0.13*r.Float64()
	return days(r, func(Date, int) float64 { return mean * (1 + spread*r.NormFloat64()) })
}

func workdayWorld(r *rand.Rand) invented {
	shift, spread, saturday := 6+6*r.Float64(), 0.05+0.2*r.Float64(), []float64{0, 0, 0.5}[r.IntN(3)]
	return days(r, func(d Date, _ int) float64 {
		h := shift * (1 + spread*r.NormFloat64())
		switch d.utc().Weekday() {
		case 0:
			return 0
		case 6:
			return h * saturday
		}
		return h
	})
}

// holidays is a workday world with a mild season that rests over the turn of
// the year.
func holidays(r *rand.Rand) invented {
	s, swing := workdayWorld(r), 0.4*r.Float64()
	rests := NewDate(2025, 12, 20) + Date(r.IntN(5))
	for i := range s.day {
		d := s.start + Date(i)
		s.day[i] *= 1 + swing*math.Cos(yearTurn*float64(d-NewDate(2026, 1, 15)))
		if d >= rests && d < rests+14 {
			s.day[i] = 0
		}
	}
	return s
}

func workOrSteady(r *rand.Rand) invented {
	if r.IntN(2) == 0 {
		return steadyWorld(r)
	}
	return workdayWorld(r)
}

// weatherWorld heats against a year's wave and weather that lasts three to
// six days: a share of the hours of the day by the degrees that lack.
func weatherWorld(r *rand.Rand) invented {
	mean, swing, stray := 3+7*r.Float64(), 6+7*r.Float64(), 2.5+2.5*r.Float64()
	setpoint, full := 14+6*r.Float64(), 18+14*r.Float64()
	hours := []float64{24, 24, 12}[r.IntN(3)]
	keep, weather := math.Exp(-1/(3+3*r.Float64())), stray*r.NormFloat64()
	coldest := NewDate(2026, 1, 10) + Date(r.IntN(20))
	return days(r, func(d Date, _ int) float64 {
		weather = keep*weather + stray*math.Sqrt(1-keep*keep)*r.NormFloat64()
		outside := mean - swing*math.Cos(yearTurn*float64(d-coldest)) + weather
		return hours * min(1, max(0, (setpoint-outside)/full))
	})
}

// intoWinter is a weather world that begins in autumn where winters are hard.
func intoWinter(r *rand.Rand) invented {
	mean, swing, stray := 3+6*r.Float64(), 9+5*r.Float64(), 3+2*r.Float64()
	setpoint, full := 10+8*r.Float64(), 20+15*r.Float64()
	keep, weather := math.Exp(-1/(3+3*r.Float64())), 0.0
	s := days(r, func(Date, int) float64 { return 0 })
	s.start = NewDate(2025, 9, 25) + Date(r.IntN(50))
	for i := range s.day {
		weather = keep*weather + stray*math.Sqrt(1-keep*keep)*r.NormFloat64()
		outside := mean - swing*math.Cos(yearTurn*float64(s.start+Date(i)-NewDate(2026, 1, 20))) + weather
		s.day[i] = 24 * min(1, max(0, (setpoint-outside)/full))
	}
	return s
}

func weekendsOff(s invented, share float64) invented {
	for i := range s.day {
		if weekend(s.start + Date(i)) {
			s.day[i] *= share
		}
	}
	return s
}

// idle takes the hours of some days away.
func (s invented) idle(from, n int) {
	for i := from; i < min(from+n, len(s.day)); i++ {
		s.day[i] = 0
	}
}

// daysOff rests a day, or two, every two to six weeks.
func daysOff(r *rand.Rand, s invented) invented {
	for i := 10 + r.IntN(20); i < len(s.day); i += 14 + r.IntN(28) {
		s.idle(i, 1+r.IntN(2))
	}
	return s
}

func idleWeeks(r *rand.Rand, s invented) invented {
	for range 1 + r.IntN(3) {
		s.idle(r.IntN(len(s.day)), 5+r.IntN(6))
	}
	return s
}

// moved stands at another place from the middle on, after up to three days
// on the way.
func moved(r *rand.Rand, s invented) invented {
	load := math.Exp(math.Log(0.4) + math.Log(2.5/0.4)*r.Float64())
	at := int(float64(len(s.day)) * (0.4 + 0.2*r.Float64()))
	for i := at; i < len(s.day); i++ {
		s.day[i] = min(24, s.day[i]*load)
	}
	s.idle(at, r.IntN(4))
	return s
}

func stored(r *rand.Rand, s invented) invented {
	at := len(s.day)/3 + r.IntN(len(s.day)/2)
	s.idle(at, len(s.day))
	return s
}

func stopped(r *rand.Rand, s invented) invented {
	s.idle(len(s.day)/4+r.IntN(len(s.day)/2), 10+r.IntN(20))
	return s
}

// intervals are the burner hours between two services of one task, h.
var intervals = []float64{50, 100, 250, 500}

// service asks when each interval is next reached, every four days from the
// sixth on. What the season does not reach bears a truth of MaxInt32.
func (s invented) service(r *rand.Rand) (qs []question) {
	var u Use
	sum := 0.0
	for i, h := range s.day {
		if i >= 5 && i%4 == 1 {
			frac := r.Float64()
			today, now := s.start+Date(i), u
			now.Add(today, h*frac)
			o := newOutlook(&now, Facts{Now: today.Start(nil).AddSeconds(frac * 86400)})
			for _, every := range intervals {
				left := every - math.Mod(sum+h*frac, every)
				q := question{left: left, early: o.day(left, earlyEnd), due: o.day(left, middle), late: o.day(left, lateEnd), truth: s.reaches(i, frac, left)}
				q.kind = ahead(q.due - today)
				qs = append(qs, q)
			}
		}
		u.Add(s.start+Date(i), h)
		sum += h
	}
	return qs
}

// Horizons of the expected date.
var aheads = []string{"under a week", "one to three weeks", "three to eight weeks", "longer"}

func ahead(days Date) string {
	switch {
	case days < 0 || days >= 56:
		return aheads[3]
	case days >= 21:
		return aheads[2]
	case days >= 7:
		return aheads[1]
	}
	return aheads[0]
}

// answered reports whether a season tells the answer. One that ends before the
// hours are reached tells only that a range which ended within it was wrong;
// the others are left out, so that misses before the range are told too often.
func (s invented) answered(q question) bool {
	return q.truth != math.MaxInt32 || q.late != 0 && q.late < s.start+Date(len(s.day))
}

// The worlds' seeds: the figures of model.go were fitted on those below
// 1,000.
const (
	firstWorld = 2_001
	lastWorld  = 2_100
)

// In worlds the forecast was not made for, the range for dates a week ahead
// and more holds about what it promises. A range is whole days, so it holds
// more where days hardly differ; and less where something happens that no
// heater shows beforehand.
func TestTheRangeHoldsInOtherWorlds(t *testing.T) {
	for k, w := range worlds {
		t.Run(w.name, func(t *testing.T) {
			by := map[string]*tally{}
			for _, a := range append(aheads, "a week and more") {
				by[a] = &tally{}
			}
			for seed := uint64(firstWorld); seed <= lastWorld; seed++ {
				r := rand.New(rand.NewPCG(seed, uint64(300+k)))
				s := w.make(r)
				for _, q := range s.service(r) {
					if s.answered(q) {
						by[q.kind].add(q)
						if q.kind != aheads[0] {
							by["a week and more"].add(q)
						}
					}
				}
			}
			for _, a := range append(aheads, "a week and more") {
				b := by[a]
				t.Logf("%-20s %.1f %% inside, %.1f %% before, %.1f %% after (%d cases, median range %d days)",
					a, 100*b.share(), 100*b.part(b.before), 100*b.part(b.after), b.n, b.days())
			}
			if got := by["a week and more"].share(); got < w.least || got > w.most {
				t.Errorf("%.3f inside, want %.2f to %.2f", got, w.least, w.most)
			}
		})
	}
}
