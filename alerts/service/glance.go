package service

import "math"

// glance is what the days singly kept say. Today is left out, being
// unfinished, and so are one seen only in part and idle days before the season
// began. The day after the newest may have been worked and not be counted yet.
type glance struct {
	days    [useDays]float64 // [i] is i days before today; unknownDay where nobody saw or in a stop
	week    [7]float64       // ratio to the mean day; [0] is today's weekday
	n, idle float64          // known days, and the idle ones of them, out of stops
	stops   float64          // stops that are over
	stopped float64          // their days, idle ones of the week included
	resting int              // idle days up to yesterday
	rested  float64          // those that would have been worked, by the week
}

func (o *outlook) look() (g glance) {
	for i := 1; i < useDays; i++ {
		d := o.today - Date(i)
		x := o.use.on(d)
		if d == o.use.Last+1 || d == o.use.Part || x == 0 && o.inSeason && Date(-i) < o.begun {
			x = unknownDay
		}
		g.days[i] = x
	}
	if o.use.Known < useDays {
		g.skipUnused()
	}
	return g
}

// skipUnused leaves out the days before the first with hours: they say when a
// heater was taken into use, not how it is used.
func (g *glance) skipUnused() {
	for i := useDays - 1; i > 0 && g.days[i] <= 0; i-- {
		g.days[i] = unknownDay
	}
}

// weekday gives the place in the week of i days before today.
func weekday(i int) int { return (useDays - i) % 7 }

// setWeek sets the shape of the week, of mean 1. Each weekday is pulled to
// the mean of all as far as its own days scatter more than weekdays differ
// (empirical Bayes; Efron and Morris 1973, from memory).
func (g *glance) setWeek() {
	sum, squares, n := g.weekdays()
	g.week = [7]float64{1, 1, 1, 1, 1, 1, 1}
	mean, all := total(sum)/max(1, g.n), 0.0
	if mean == 0 {
		return
	}
	left, free := spreadDays*sq(priorSpread*mean), spreadDays
	for d := range n {
		if n[d] > 0 {
			left += squares[d] - sq(sum[d])/n[d]
			free += n[d] - 1
		}
	}
	pull := left / free / sq(weekSpread*mean)
	for d := range g.week {
		g.week[d] = (sum[d]/mean + pull) / (n[d] + pull)
		all += g.week[d]
	}
	for d := range g.week {
		g.week[d] *= 7 / all
	}
}

// weekdays sums up the days by weekday, and counts them.
func (g *glance) weekdays() (sum, squares, n [7]float64) {
	g.n, g.idle = 0, 0
	for i := 1; i < useDays; i++ {
		x, d := g.days[i], weekday(i)
		if x < 0 {
			continue
		}
		sum[d] += x
		squares[d] += x * x
		n[d]++
		g.n++
		if x == 0 {
			g.idle++
		}
	}
	return sum, squares, n
}

func total(week [7]float64) (s float64) {
	for _, x := range week {
		s += x
	}
	return s
}

// longStop is how many idle days that would have been worked make a stop,
// days (common practice, no source).
const longStop = 4

// restEvery is the days worked between stops up to which they belong to how
// a heater is used, days (common practice, no source).
const restEvery = 14

// findStops takes stops out of the days, unless they come so often that they
// are the heater's way of working.
func (g *glance) findStops() {
	all := *g
	g.takeStops()
	if g.stops > 0 && g.n-g.stopped < restEvery*g.stops {
		resting, rested := g.resting, g.rested
		*g = all
		g.resting, g.rested = resting, rested
	}
}

// takeStops takes stops out of the days, counting those that are over.
func (g *glance) takeStops() {
	from, idle := 1, 0.0
	for i := 1; i <= useDays; i++ {
		if i < useDays && g.days[i] == 0 {
			idle += min(1, g.week[weekday(i)])
			continue
		}
		if from == 1 {
			g.resting, g.rested = i-1, idle
		}
		if idle >= longStop {
			g.takeOut(from, i)
		}
		from, idle = i+1, 0
	}
}

func (g *glance) takeOut(from, to int) {
	if from > 1 { // else it goes on
		g.stops++
		g.stopped += float64(to - from)
	}
	g.forget(from, to)
}

// stops is how often a heater stands still for a while, and for how long.
type stops struct {
	rate        float64 // a day
	short, long int     // days a stop may last, as likely the one as the other
	going       float64 // chance that one is going on
	soon, late  int     // days that one may still last, as likely the one as the other …
	stays       int     // … or much longer, where the heater was put away
}

// What is left of a stop, over its length so far or the usual one, if it is
// to end soon, late, or much later, ratio, and the chance of the last: what has
// lasted for a while may well last several times as long (common practice, no
// source).
const (
	soonLeft = 0.25
	lateLeft = 1.0
	awayLeft = 4.0
	away     = 0.2
)

// A short and a long stop, over the mean length, ratio (common practice, no
// source).
const (
	shortStop = 0.5
	longerBy  = 1.5
)

// setStops works out how often stops come and how long they last, and gives
// the chance that one is going on: how unlikely the idle days up to yesterday
// are for a heater that idles as often as this one, against how often stops
// begin.
func (o *outlook) setStops(g *glance) {
	o.stops.rate = (stopWeight + g.stops) / (stopWeight*stopEvery + g.n)
	length := (stopWeight*stopDays + g.stopped) / (stopWeight + g.stops)
	o.stops.short, o.stops.long = whole(length*shortStop), whole(length*longerBy)
	worked := *g
	worked.forget(1, g.resting+1)
	worked.setWeek()
	chance, share := 1.0, (worked.idle+1)/(worked.n+4)
	for i := 1; i <= g.resting; i++ {
		w := min(1, worked.week[weekday(i)])
		chance *= 1 - w + w*share
	}
	begun := g.rested * o.stops.rate
	o.stops.going = begun / (begun + chance)
	left := max(length, float64(g.resting))
	o.stops.soon, o.stops.late, o.stops.stays = whole(left*soonLeft), whole(left*lateLeft), whole(left*awayLeft)
	if chance < oddRest {
		*g = worked
	}
}

// oddRest is how unlikely idle days up to yesterday must be for how a heater is
// used to say nothing of its level (common practice, no source).
const oddRest = 0.1

// forget leaves out days: as many before today as from and up to to.
func (g *glance) forget(from, to int) {
	for i := from; i < to; i++ {
		g.days[i] = unknownDay
	}
}

func whole(days float64) int { return int(math.Round(days)) }
