package jobsite

import (
	"math"
	"time"
)

// DailyUse is one day of one heater in a heating season.
type DailyUse struct {
	Day     int // from 0
	Weekday time.Weekday
	MeanC   float64 // °C outside
	Hours   float64 // burner hours, 0 to 24
	Idle    bool    // nobody on site that week: off
}

// The shape of a season; chosen, no source.
const (
	seasonDays   = 180
	balanceC     = 14.0 // °C outside at which no heat is wanted
	hoursPerK    = 0.75 // burner hours a day per °C below that
	weekendShare = 0.25 // of a working day's hours: frost protection only
	idleChance   = 0.06 // of a week
	startSpread  = 0.35 // daily scatter of use, standard deviation of its logarithm
	siteSpread   = 0.3  // scatter between heaters, the same
	weatherKeep  = 0.8  // share of yesterday's anomaly that today still has
	weatherC     = 3.5  // °C, standard deviation of the anomaly
)

// Season gives the days of one heater over a heating season of 180 days that
// begins on a Monday in October: cold in the middle, spells of weather,
// short weekends, idle weeks.
func Season(seed uint64) []DailyUse {
	rng := source(seed, "season")
	size := math.Exp(siteSpread * rng.NormFloat64())
	anomaly, idle := 0.0, false
	days := make([]DailyUse, seasonDays)
	for i := range days {
		if i%7 == 0 {
			idle = rng.Float64() < idleChance
		}
		anomaly = weatherKeep*anomaly + weatherC*math.Sqrt(1-weatherKeep*weatherKeep)*rng.NormFloat64()
		d := &days[i]
		d.Day, d.Weekday, d.Idle = i, time.Weekday((i+1)%7), idle
		d.MeanC = 4.5 - 5.5*math.Sin(math.Pi*float64(i)/seasonDays) + anomaly
		d.Hours = d.use(size * math.Exp(startSpread*rng.NormFloat64()))
	}
	return days
}

func (d *DailyUse) use(factor float64) float64 {
	if d.Idle {
		return 0
	}
	h := max(balanceC-d.MeanC, 0) * hoursPerK * factor
	if d.Weekday == time.Saturday || d.Weekday == time.Sunday {
		h *= weekendShare
	}
	return min(h, 24)
}
