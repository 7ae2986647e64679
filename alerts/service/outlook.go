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
// seasons (see the calibration test), not taken from a document.
type Model struct {
	PriorHours   float64 // burner hours a day of a heater nobody has watched yet, h
	PriorDays    float64 // days of watching that outweigh PriorHours, days
	Memory       float64 // time constant of the recent mean, days
	OldDays      float64 // most weight the days before the last six weeks have, days
	PriorSpread  float64 // standard deviation of a day over its mean, before any is seen, ratio
	SpreadDays   float64 // days of watching that outweigh PriorSpread, days
	Clumping     float64 // variance of a long sum over that of as many independent days, ratio
	WeekdayWeeks float64 // weeks of watching that outweigh an even week, weeks
	Drift        float64 // standard deviation of the mean's wandering in the long run, ratio
	Seasonal     float64 // how far demand at the height of the season lies above the year's mean, ratio
	ZEarly       float64 // normal deviate of the 10 % end
	ZLate        float64 // normal deviate of the 90 % end
	Reach        int     // longest forecast, days
}

// DefaultModel gives the figures in use.
func DefaultModel() Model {
	return Model{
		PriorHours: 7, PriorDays: 3, Memory: 14, OldDays: 7,
		PriorSpread: 0.7, SpreadDays: 7, Clumping: 3, WeekdayWeeks: 2,
		Drift: 0.25, Seasonal: 0.4, ZEarly: 1.2816, ZLate: 1.2816, Reach: 730,
	}
}

// Outlook is how many burner hours a heater will probably run on the days to
// come, as a lognormal sum with the heater's own mean, week and spread.
type Outlook struct {
	use     *Use
	model   Model
	today   Date
	rest    float64    // what is left of today, share of a day
	mean    float64    // h a day, at the level of the days seen
	week    [7]float64 // ratio to mean; [0] is today's weekday
	daily   float64    // squared spread of one day over the mean, clumping included
	parm    float64    // squared spread of the mean itself
	phase   float64    // radians of the year from the height of the season to today
	level   float64    // seasonal level of the days seen
	weekSum float64    // sum of week
}

// yearTurn is the radians one day turns the year by.
const yearTurn = 2 * math.Pi / 365.25

// NewOutlook works out a heater's outlook from its use, at f.Now.
func NewOutlook(u *Use, f Facts, m Model) Outlook {
	o := Outlook{use: u, model: m, today: DateOf(f.Now, f.Zone)}
	begin, end := o.today.Start(f.Zone), (o.today + 1).Start(f.Zone)
	o.rest = float64(end-f.Now) / float64(end-begin)
	first, last := f.Season.orDefault().window(o.today)
	o.phase = yearTurn * (float64(o.today) - float64(first+last)/2)
	o.fit(o.look())
	o.level = o.season(-m.Memory / 2)
	return o
}

// season gives the level of demand some days from today over the year's mean.
func (o *Outlook) season(days float64) float64 {
	return 1 + o.model.Seasonal*math.Cos(o.phase+yearTurn*days)
}

// seasonOver gives the mean level of demand over the days from now.
func (o *Outlook) seasonOver(days float64) float64 {
	turn := yearTurn * days
	return 1 + o.model.Seasonal*(math.Sin(o.phase+turn)-math.Sin(o.phase))/turn
}

// glance is what the days singly kept say; today is left out, being unfinished.
type glance struct {
	days        [UseDays]float64 // [i] is i days before today; unknownDay where nobody saw
	weight, sum float64          // fading weight of the known days, and of their hours
	n           float64          // known days
	wdSum, wdN  [7]float64       // by days from today's weekday
}

func (o *Outlook) look() (g glance) {
	w, fade := 1.0, math.Exp(-1/o.model.Memory)
	for i := 1; i < UseDays; i++ {
		x := o.use.on(o.today - Date(i))
		g.days[i] = x
		if x >= 0 {
			g.weight += w
			g.sum += w * x
			g.n++
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
	old := min(m.OldDays, float64(o.use.OldDays))
	oldMean := 0.0
	if old > 0 {
		oldMean = float64(o.use.OldSum / o.use.OldDays)
	}
	seen := g.weight + old
	o.mean = (g.sum + old*oldMean + m.PriorDays*m.PriorHours) / (seen + m.PriorDays)
	plain := (g.sumOfDays() + m.PriorDays*o.mean) / (g.n + m.PriorDays)
	for d := range o.week {
		o.week[d] = (g.wdSum[d] + m.WeekdayWeeks*plain) / ((g.wdN[d] + m.WeekdayWeeks) * plain)
		o.weekSum += o.week[d]
	}
	for d := range o.week {
		o.week[d] *= 7 / o.weekSum
	}
	o.weekSum = 7
	o.daily = g.spread(plain, o.week, m) * m.Clumping
	o.parm = o.daily / (seen + m.PriorDays)
}

func (g *glance) sumOfDays() (s float64) {
	for _, x := range g.wdSum {
		s += x
	}
	return s
}

// spread gives the squared spread of a day around its weekday's mean, over
// the mean.
func (g *glance) spread(mean float64, week [7]float64, m Model) float64 {
	sum := m.SpreadDays * m.PriorSpread * m.PriorSpread
	for i := 1; i < UseDays; i++ {
		if x := g.days[i]; x >= 0 {
			r := x/mean - week[(UseDays-i)%7]
			sum += r * r
		}
	}
	return sum / (g.n + m.SpreadDays)
}

// Day gives the day by which h more burner hours will have run, at one end
// of the forecast; 0 if that is out of reach. For h at or below 0 it is the
// day on which they had run, as far back as single days are kept.
func (o *Outlook) Day(h float64, c Chance) Date {
	if h <= 0 {
		return o.back(-h)
	}
	low, high := o.fewest(h)-1, 1 // low never has h, high may
	for high = max(high, low+1); !o.reaches(high, h, c); high *= 2 {
		if high > o.model.Reach {
			return 0
		}
		low = high
	}
	for high-low > 1 {
		if mid := (low + high) / 2; o.reaches(mid, h, c) {
			high = mid
		} else {
			low = mid
		}
	}
	return o.today + Date(high)
}

// fewest gives the days after today without which h cannot have run, at 24 h
// a day.
func (o *Outlook) fewest(h float64) int { return max(0, int(math.Ceil(h/24-o.rest))) }

// reaches reports whether h will have run by the end of day j from today, at
// one end of the forecast.
func (o *Outlook) reaches(j int, h float64, c Chance) bool {
	n := float64(j) + o.rest
	drift := o.model.Drift * o.model.Drift * n / (n + 30)
	v := math.Log1p(o.daily/n + o.parm + drift)
	z := [...]float64{o.model.ZEarly, 0, -o.model.ZLate}[c]
	return math.Log(o.expect(j)/h) >= v/2-z*math.Sqrt(v)
}

// expect gives the mean of the hours from now to the end of day j from today.
func (o *Outlook) expect(j int) float64 {
	full := float64(j/7) * o.weekSum
	for i := 1; i <= j%7; i++ {
		full += o.week[i%7]
	}
	if j > 0 {
		full *= o.seasonOver(float64(j)) / o.level
	}
	return o.mean * (full + o.rest*o.week[0])
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
