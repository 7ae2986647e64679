package service

import "math"

// Chance is which end of the forecast is asked for.
type Chance int

// The forecast's three dates.
const (
	Early    Chance = iota // due by then with 10 % chance
	Expected               // as likely before as after
	Late                   // due by then with 90 % chance
)

// Model holds the figures of the forecast. They are fitted to invented
// seasons (common practice, no source).
type Model struct {
	PriorHours   float64 // burner hours a day of a heater nobody has watched yet, h
	PriorDays    float64 // days of watching that outweigh PriorHours, days
	PriorDoubt   float64 // standard deviation of heaters' means around PriorHours, ratio
	Memory       float64 // time constant of the recent mean, days
	Long         float64 // weight each day kept singly has beside the fading one, ratio
	OldDays      float64 // most weight the days before the last six weeks have, days
	PriorSpread  float64 // standard deviation of a day over its mean, before any is seen, ratio
	SpreadDays   float64 // days of watching that outweigh PriorSpread, days
	Clumping     float64 // variance of a long sum over that of as many independent days, ratio
	ClumpWeeks   float64 // weeks of watching that outweigh Clumping, weeks
	WeekdayWeeks float64 // weeks of watching that outweigh an even week, weeks
	Drift        float64 // standard deviation of the mean's wandering in the long run, ratio
	DriftShare   float64 // variance of that wandering per variance a day adds to a long sum, for this heater, ratio
	DriftDays    float64 // days in which half of the wandering's variance is reached, days
	Seasonal     float64 // how far demand at the height of the season lies above the year's mean, ratio
	SeasonDoubt  float64 // standard deviation of the season's effect, over that effect, ratio
	OffSeason    float64 // hours out of season over those in season, ratio
	StopEvery    float64 // days between stops (moves, idle weeks), before any is seen, days
	StopWeight   float64 // how many stops that figure weighs, against those seen
	StopDays     int     // length of a stop, days; whole weeks keep the weekdays in step
	Tail         float64 // chance outside each end of the range
	Reach        int     // longest forecast, days
}

// DefaultModel gives the figures in use.
func DefaultModel() Model {
	return Model{
		PriorHours: 10, PriorDays: 3.8, PriorDoubt: 0.93, Memory: 9, Long: 0.21, OldDays: 4,
		PriorSpread: 0.57, SpreadDays: 1.4, Clumping: 1.13, ClumpWeeks: 4.8, WeekdayWeeks: 3.2,
		Drift: 0.053, DriftShare: 0.13, DriftDays: 70, Seasonal: 0.38, SeasonDoubt: 0.79, OffSeason: 0.07,
		StopEvery: 700, StopWeight: 10, StopDays: 14, Tail: 0.10, Reach: 730,
	}
}

// Outlook is how many burner hours a heater will probably run on the days to
// come, as a lognormal sum with the heater's own mean, week and spread.
type Outlook struct {
	use      *Use
	model    Model
	today    Date
	rest     float64    // what is left of today, share of a day
	mean     float64    // h a day in season, at the level of the days seen
	off      float64    // h a day out of season
	week     [7]float64 // ratio to mean; [0] is today's weekday
	daily    float64    // squared spread of one day over the mean, clumping included
	parm     float64    // squared spread of the mean itself
	drift    float64    // squared spread of the mean's wandering in the long run
	stops    float64    // stops a day
	stopped  float64    // chance that a stop is going on, longer than the weekdays explain
	inSeason bool
	begun    Date       // days from today to the season's start, at or below 0 in season
	on       [2]stretch // the days ahead that lie in season
	phase    float64    // radians of the year from the height of the season to today
	sine     float64    // of phase
	level    float64    // seasonal level of the days seen
}

// yearTurn is the radians one day turns the year by.
const yearTurn = 2 * math.Pi / 365.25

// NewOutlook works out a heater's outlook from its use, at f.Now.
func NewOutlook(u *Use, f Facts, m Model) Outlook {
	o := Outlook{use: u, model: m, today: DateOf(f.Now, f.Zone)}
	begin, end := o.today.Start(f.Zone), (o.today + 1).Start(f.Zone)
	o.rest = float64(end-f.Now) / float64(end-begin)
	o.setSeason(f.Season.orDefault())
	o.fit(o.look())
	return o
}

// setSeason works out how the days ahead lie in the season. Only one season
// ahead is looked at; the forecast reaches no further.
func (o *Outlook) setSeason(s HeatingSeason) {
	first, last := s.window(o.today)
	next, nextLast := s.window(last + 1)
	o.phase = yearTurn * (float64(o.today) - float64(first+last)/2)
	o.sine = math.Sin(o.phase)
	o.begun = first - o.today
	o.inSeason = o.begun <= 0
	o.on = [2]stretch{{max(0, int(first-o.today)-1), int(last - o.today)}, {int(next-o.today) - 1, int(nextLast - o.today)}}
	o.level = 1 + o.model.Seasonal*math.Cos(o.phase-yearTurn*o.model.Memory/2)
}

// stretch is a run of days, as days from today: after .from, up to .to.
type stretch struct{ from, to int }

// within gives how many of the next j days lie in the stretch.
func (s stretch) within(j int) int { return max(0, min(j, s.to)-s.from) }

// days gives the next j days as days in season and out of it.
func (o *Outlook) days(j int) (in, out float64) {
	n := o.on[0].within(j) + o.on[1].within(j)
	return float64(n), float64(j - n)
}

// seasonOver gives the mean level of demand over the days from now, over
// that of the days seen.
func (o *Outlook) seasonOver(days float64) float64 {
	turn := yearTurn * days
	return (1 + o.model.Seasonal*(math.Sin(o.phase+turn)-o.sine)/turn) / o.level
}

// glance is what the days singly kept say; today is left out, being
// unfinished, and so are idle days before the season began.
type glance struct {
	days        [UseDays]float64 // [i] is i days before today; unknownDay where nobody saw
	weight, sum float64          // weight of the known days, and of their hours
	n, idle     float64          // known days, and the idle ones of them
	wdSum, wdN  [7]float64       // by days from today's weekday
}

func (o *Outlook) look() (g glance) {
	w, fade := 1.0, math.Exp(-1/o.model.Memory)
	for i := 1; i < UseDays; i++ {
		x := o.use.on(o.today - Date(i))
		if o.inSeason && Date(-i) < o.begun && x == 0 {
			x = unknownDay
		}
		g.days[i] = x
		if x >= 0 {
			g.weight += w + o.model.Long
			g.sum += (w + o.model.Long) * x
			g.n++
			if x == 0 {
				g.idle++
			}
			g.wdSum[(UseDays-i)%7] += x
			g.wdN[(UseDays-i)%7]++
		}
		w *= fade
	}
	return g
}

// fit sets mean, week and spread, each pulled towards its prior as far as
// few days were seen.
func (o *Outlook) fit(g glance) {
	m := o.model
	old, oldMean := o.old()
	seen := g.weight + old
	unseen := m.PriorDays / (g.n + old + m.PriorDays)
	o.mean = unseen * m.PriorHours
	if seen > 0 {
		o.mean += (1 - unseen) * (g.sum + old*oldMean) / seen
	}
	plain := (g.sumOfDays() + m.PriorDays*o.mean) / (g.n + m.PriorDays)
	o.setWeek(g, plain)
	o.daily = g.spread(plain, o.week, m)
	o.parm = o.daily/(seen+m.PriorDays) + unseen*unseen*m.PriorDoubt*m.PriorDoubt
	o.drift = m.Drift*m.Drift + m.DriftShare*o.daily
	o.stops = (m.StopWeight + g.stops(o.week)) / (m.StopWeight*m.StopEvery + g.n)
	o.stopped = o.stopGoing(g)
	o.off = o.mean * m.OffSeason
	if !o.inSeason {
		o.off = g.sum / (g.weight + m.PriorDays)
		o.mean = max(o.mean, (old*oldMean+m.PriorDays*m.PriorHours)/(old+m.PriorDays))
		o.level = 1
	}
}

// old gives the weight and the mean of the days before those kept singly.
func (o *Outlook) old() (weight, mean float64) {
	if o.use.OldDays == 0 {
		return 0, 0
	}
	return min(o.model.OldDays, float64(o.use.OldDays)), float64(o.use.OldSum / o.use.OldDays)
}

// setWeek sets the shape of the week, of mean 1.
func (o *Outlook) setWeek(g glance, mean float64) {
	sum, w := 0.0, o.model.WeekdayWeeks
	for d := range o.week {
		o.week[d] = (g.wdSum[d]/mean + w) / (g.wdN[d] + w)
		sum += o.week[d]
	}
	for d := range o.week {
		o.week[d] *= 7 / sum
	}
}

func (g *glance) sumOfDays() (s float64) {
	for _, x := range g.wdSum {
		s += x
	}
	return s
}

// longStop is the idle working days that make a stop, days (common
// practice, no source).
const longStop = 3

// stops counts the stops among the days seen.
func (g *glance) stops(week [7]float64) float64 {
	n, idle := 0.0, 0.0
	for i := 1; i <= UseDays; i++ {
		if i < UseDays && g.days[i] == 0 {
			idle += min(1, week[(UseDays-i)%7])
			continue
		}
		if idle >= longStop {
			n++
		}
		idle = 0
	}
	return n
}

// stopGoing gives the chance that a stop is going on: how unlikely the idle
// days up to yesterday are for a heater that idles as often as this one,
// against how often stops begin.
func (o *Outlook) stopGoing(g glance) float64 {
	idle, chance := 0.0, 1.0
	share := (g.idle + 1) / (g.n + 4)
	for i := 1; i < UseDays && g.days[i] == 0; i++ {
		w := min(1, o.week[(UseDays-i)%7])
		idle += w
		chance *= 1 - w + w*share
	}
	begun := idle * o.stops
	return begun / (begun + chance)
}

// spread gives the squared spread, over the mean, that a day adds to a long
// sum: what single days show around their weekday's mean, times the usual
// clumping, corrected by what whole weeks show.
func (g *glance) spread(mean float64, week [7]float64, m Model) float64 {
	days, weeks, nWeeks := m.SpreadDays*m.PriorSpread*m.PriorSpread, 0.0, 0.0
	block, known := 0.0, 0
	for i := 1; i < UseDays; i++ {
		if x := g.days[i]; x >= 0 {
			r := x/mean - week[(UseDays-i)%7]
			days += r * r
			block += r
			known++
		}
		if i%7 == 0 {
			if known == 7 {
				weeks += block * block
				nWeeks++
			}
			block, known = 0, 0
		}
	}
	usual := m.Clumping * days / (g.n + m.SpreadDays)
	return (m.ClumpWeeks*usual + weeks/7) / (m.ClumpWeeks + nWeeks)
}

// Day gives the day by which h more burner hours will have run, at one end
// of the forecast; 0 if that is out of reach. For h at or below 0 it is the
// day on which they had run, as far back as single days are kept.
//
// The chance can dip again where the season fades, so it is the first day
// with enough of it that counts. That day is looked for on a fixed grid and
// then within its cell, so that fewer hours never lead to a later day.
func (o *Outlook) Day(h float64, c Chance) Date {
	if h <= 0 {
		return o.back(-h)
	}
	p := [...]float64{o.model.Tail, 0.5, 1 - o.model.Tail}[c]
	low := o.earliest(h, p)
	for cell := 0; cell <= o.model.Reach; cell = nextCell(cell) {
		end := nextCell(cell) - 1
		if end < low || o.chance(end, h) < p {
			continue
		}
		for j := max(cell, low); ; j++ {
			if o.chance(j, h) >= p {
				return o.today + Date(j)
			}
		}
	}
	return 0
}

// nextCell gives the first day of the next cell of the grid; cells are a
// sixteenth of the way ahead long.
func nextCell(j int) int { return j + 1 + j/16 }

// earliest gives the first day, counted from today, on which h can have run
// with chance p: at 24 h a day, and since a lognormal sum of mean M exceeds
// M·exp(z²/2) with less than the chance of the normal deviate z.
func (o *Outlook) earliest(h, p float64) int {
	least := h
	if p < 0.5 {
		z := math.Sqrt2 * math.Erfinv(1-2*p)
		least *= math.Exp(-z * z / 2)
	}
	low, high := max(0, int(math.Ceil(h/24-o.rest))), o.model.Reach+1
	for low < high {
		if mid := (low + high) / 2; o.expect(mid) >= least {
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
func (o *Outlook) chance(j int, h float64) float64 {
	going := o.withStops(j, h)
	if o.stopped < 0.01 {
		return going
	}
	soon, late := o.withStops(j-o.model.StopDays/4, h), o.withStops(j-o.model.StopDays, h)
	return (1-o.stopped)*going + o.stopped*(soon+late)/2
}

func (o *Outlook) withStops(j int, h float64) float64 {
	if j < 0 {
		return 0
	}
	stops := float64(j) * o.stops
	none := math.Exp(-stops)
	one := none * stops
	p := none*o.unstopped(j, h) + one*o.unstopped(j-o.model.StopDays, h)
	if more := 1 - none - one; more > 0.005 {
		p += more * o.unstopped(j-2*o.model.StopDays, h)
	}
	return p
}

func (o *Outlook) unstopped(j int, h float64) float64 {
	if j < 0 {
		return 0
	}
	n := float64(j) + o.rest
	doubt := o.model.SeasonDoubt * math.Log(o.seasonOver(max(1, float64(j))))
	v := math.Log1p(o.daily/n+o.parm+o.drift*n/(n+o.model.DriftDays)) + doubt*doubt
	z := (math.Log(o.expect(j)/h) - v/2) / math.Sqrt(v)
	return 0.5 * math.Erfc(-z/math.Sqrt2)
}

// expect gives the mean of the hours from now to the end of day j from today.
func (o *Outlook) expect(j int) float64 {
	today := o.mean
	if !o.inSeason {
		today = o.off
	}
	h := today * o.rest * o.week[0]
	if j == 0 {
		return h
	}
	full := float64(j - j%7)
	for i := 1; i <= j%7; i++ {
		full += o.week[i%7]
	}
	in, out := o.days(j)
	return h + full/float64(j)*(in*o.mean*o.seasonOver(float64(j))+out*o.off)
}

// back gives the day on which the heater had h hours fewer than now.
func (o *Outlook) back(h float64) Date {
	d := o.today
	for ; h > 0 && o.use.keeps(d-1); d-- {
		h -= max(o.use.on(d), 0)
		if h <= 0 {
			break
		}
	}
	return d
}
