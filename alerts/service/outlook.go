package service

import "math"

// chance is which end of the forecast is asked for.
type chance int

// The forecast's three dates.
const (
	earlyEnd chance = iota // due before then with 10 % chance
	middle                 // as likely before as after
	lateEnd                // due by then with 90 % chance
)

// outlook is how many burner hours a heater will probably run on the days to
// come, as a lognormal sum with the heater's own mean, week and spread.
type outlook struct {
	use      *Use
	today    Date
	ran      float64    // h today so far
	rest     float64    // what is left of today, share of a day
	level    level      // in season
	off      float64    // h a day out of season
	offDoubt float64    // its variance, h²
	week     [7]float64 // ratio to the mean day; [0] is today's weekday
	drift    float64    // squared spread of the level's wandering in the long run, ratio
	stops    stops
	unused   bool            // never lit yet
	begins   [len(waits)]int // days from now when it may be
	inSeason bool
	begun    Date       // days from today to the season's start, at or below 0 in season
	on       [2]stretch // the days ahead that lie in season
	phase    float64    // radians of the year from the height of the season to today
}

// yearTurn is the radians one day turns the year by.
const yearTurn = 2 * math.Pi / 365.25

// newOutlook works out a heater's outlook from its use, at f.Now.
func newOutlook(u *Use, f Facts) outlook {
	o := outlook{use: u, today: DateOf(f.Now, f.Zone), ran: f.Today}
	begin, end := o.today.Start(f.Zone), (o.today + 1).Start(f.Zone)
	o.rest = float64(end-f.Now) / float64(end-begin)
	o.setSeason(f.Season.orDefault())
	o.setUnused()
	o.fit()
	return o
}

// setSeason works out how the days ahead lie in the season. Only one season
// ahead is looked at; the forecast reaches no further.
func (o *outlook) setSeason(s HeatingSeason) {
	first, last := s.window(o.today)
	next, nextLast := s.window(last + 1)
	o.phase = yearTurn * (float64(o.today) - float64(first+last)/2)
	o.begun = first - o.today
	o.inSeason = o.begun <= 0
	o.on = [2]stretch{{max(0, int(first-o.today)-1), int(last - o.today)}, {int(next-o.today) - 1, int(nextLast - o.today)}}
}

// stretch is a run of days, as days from today: after .from, up to .to.
type stretch struct{ from, to int }

// within gives how many of the next j days lie in the stretch.
func (s stretch) within(j int) int { return max(0, min(j, s.to)-s.from) }

// days gives the next j days as days in season and out of it.
func (o *outlook) days(j int) (in, out float64) {
	n := o.on[0].within(j) + o.on[1].within(j)
	return float64(n), float64(j - n)
}

// fit works out level, week and stops from the days singly kept.
func (o *outlook) fit() {
	g := o.look()
	g.setWeek()
	g.findStops()
	g.setWeek()
	o.setStops(&g)
	o.week = g.week
	o.setLevel(&g)
	now, doubt := o.level.today()
	o.drift = sq(drift) + driftShare*o.level.long()/max(now*now, leastVariance)
	if o.inSeason {
		o.off = now * outOfSeason
		return
	}
	o.offSeason(now, doubt, g.n)
}

// offSeason takes what was seen for the hours out of season; of the season to
// come speaks what is known of the last one.
func (o *outlook) offSeason(now, doubt, days float64) {
	if days > 0 {
		o.off, o.offDoubt = now, doubt
	}
	w, mean := o.old()
	w = min(w, oldDays)
	o.level.become(max(now, leastHours, (w*mean+priorDays*priorHours)/(w+priorDays)))
}

// leastHours keeps what is expected above nothing, h (common practice, no
// source).
const leastHours = 1e-6

// old gives the weight and the mean of the days before those kept singly.
func (o *outlook) old() (weight, mean float64) {
	if o.use.OldDays == 0 {
		return 0, 0
	}
	return float64(o.use.OldDays), float64(o.use.OldSum / o.use.OldDays)
}

// day gives the day by which h more burner hours will have run, at one end
// of the forecast; 0 if that is out of reach. For h at or below 0 it is the
// day on which they had run, as far back as single days are kept.
//
// The ends are rounded to whole days so that each leaves out its tenth on
// average: they go by the middle of the chances at a day's two ends.
//
// The chance can dip again where the season fades, so it is the first day
// with enough of it that counts. That day is looked for on a fixed grid and
// then within its cell, so that fewer hours never lead to a later day.
func (o *outlook) day(h float64, c chance) Date {
	if h <= 0 {
		return o.back(-h)
	}
	p := [...]float64{tail, 0.5, 1 - tail}[c]
	low := o.earliest(h, p)
	for cell := 0; cell <= reach; cell = nextCell(cell) {
		end := nextCell(cell) - 1
		if end < low || o.by(end, h, c) < p {
			continue
		}
		for j := max(cell, low); ; j++ {
			if o.by(j, h, c) >= p {
				return o.today + Date(j)
			}
		}
	}
	return 0
}

// by gives the chance that counts for a day at one end of the forecast.
func (o *outlook) by(j int, h float64, c chance) float64 {
	p := o.chance(j, h)
	switch c {
	case earlyEnd:
		return (p + o.chance(j-1, h)) / 2
	case lateEnd:
		return (p + o.chance(j+1, h)) / 2
	}
	return p
}

// nextCell gives the first day of the next cell of the grid; cells are a
// sixteenth of the way ahead long.
func nextCell(j int) int { return j + 1 + j/16 }

// earliest gives the first day, counted from today, on which h can have run
// with chance p: at 24 h a day, and since a lognormal sum of mean M exceeds
// M·exp(z²/2) with less than the chance of the normal deviate z. A tenth is
// left for ends that are rounded.
func (o *outlook) earliest(h, p float64) int {
	least := h
	if p < 0.5 {
		z := math.Sqrt2 * math.Erfinv(1-p)
		least *= math.Exp(-z * z / 2)
	}
	low, high := max(0, int(math.Ceil(h/24-o.rest))), reach+1
	for low < high {
		mid := (low + high) / 2
		if mean, _ := o.sum(mid+1, true); mean >= least {
			high = mid
		} else {
			low = mid + 1
		}
	}
	return low
}

// chance gives the probability that h will have run by the end of day j from
// today: with no stop until then, one, or two and more, and with the stop
// that may be going on now.
func (o *outlook) chance(j int, h float64) float64 {
	if o.unused {
		return o.onceUsed(j, h)
	}
	going := o.withStops(j, h)
	if o.stops.going < 0.01 {
		return going
	}
	soon, late, stays := o.withStops(j-o.stops.soon, h), o.withStops(j-o.stops.late, h), o.withStops(j-o.stops.stays, h)
	return (1-o.stops.going)*going + o.stops.going*((1-away)*(soon+late)/2+away*stays)
}

func (o *outlook) withStops(j int, h float64) float64 {
	if j < 0 {
		return 0
	}
	stops := float64(j) * o.stops.rate
	none := math.Exp(-stops)
	p := none * o.unstopped(j, h)
	one := none * stops
	if one > 0.005 {
		p += one * (o.unstopped(j-o.stops.short, h) + o.unstopped(j-o.stops.long, h)) / 2
	}
	if more := 1 - none - one; more > 0.005 {
		p += more * o.unstopped(j-o.stops.short-o.stops.long, h)
	}
	return p
}

// unstopped gives the chance without a stop. Most heaters are put away when
// the season ends, some work on.
func (o *outlook) unstopped(j int, h float64) float64 {
	if j < 0 {
		return 0
	}
	p := o.reached(j, h, false)
	if j > o.on[0].to && o.inSeason {
		p += worksOn * (o.reached(j, h, true) - p)
	}
	return p
}

func (o *outlook) reached(j int, h float64, on bool) float64 {
	mean, variance := o.sum(j, on)
	n := float64(j) + o.rest
	v := math.Log1p(variance/(mean*mean) + o.drift*n/(n+driftDays))
	z := (math.Log(mean/h) - v/2) / math.Sqrt(v)
	return 0.5 * math.Erfc(-z/math.Sqrt2)
}

// sum gives mean, h, and variance, h², of the hours from now to the end of
// day j from today, of a heater that is put away when the season ends or
// works on.
func (o *outlook) sum(j int, on bool) (mean, variance float64) {
	even := float64(j) + o.rest
	in, out := o.days(j)
	switch {
	case on && o.inSeason:
		in, out = even, 0
	case o.inSeason:
		in += o.rest
	default:
		out += o.rest
	}
	worked := o.rest*o.week[0] + float64(j-j%7)
	for i := 1; i <= j%7; i++ {
		worked += o.week[i%7]
	}
	share := worked / even
	n, off := in*share, out*share
	season, doubt := o.seasonal(even)
	mean = n*season + off*o.off
	if o.inSeason {
		mean = max(mean+o.level.carried(n), leastCarried*mean)
	}
	return max(mean, leastHours), n*n*doubt + off*off*o.offDoubt + o.level.noise(worked)
}

// leastCarried is the least share of the mean that yesterday's deviation can
// leave, ratio (common practice, no source).
const leastCarried = 0.05

// seasonal gives the level over the days from now, h a day, and its variance,
// h². Out of season the next one is taken at its mean.
func (o *outlook) seasonal(days float64) (mean, doubt float64) {
	if !o.inSeason {
		return o.level.times(0)
	}
	return o.level.over(days)
}

// back gives the day on which the heater had h hours fewer than now.
func (o *outlook) back(h float64) Date {
	d := o.today
	h -= o.ran
	for ; h > 0 && o.use.keeps(d-1); d-- {
		h -= max(o.use.on(d), 0)
		if h <= 0 {
			break
		}
	}
	return d
}
