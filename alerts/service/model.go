package service

// Model holds the figures of the forecast. They are fitted to invented
// seasons (common practice, no source).
type Model struct {
	PriorHours  float64 // burner hours a day of a heater nobody has watched yet, h
	PriorDays   float64 // days of watching out of season that outweigh PriorHours, days
	PriorDoubt  float64 // standard deviation of heaters' means around PriorHours, ratio
	OldDoubt    float64 // standard deviation of the mean before the last six weeks around today's, ratio
	OldDays     float64 // most weight the days before the last six weeks have out of season, days
	PriorSpread float64 // standard deviation of a day over its mean, before any is seen, ratio
	SpreadDays  float64 // days of watching that outweigh PriorSpread, days
	SpreadLoss  float64 // days of watching used up by what is fitted to them, days
	WeekSpread  float64 // standard deviation of the weekdays' means, ratio
	Drift       float64 // standard deviation of the mean's wandering in the long run, ratio
	DriftShare  float64 // variance of that wandering per variance a day adds to a long sum, for this heater, ratio
	DriftDays   float64 // days in which half of the wandering's variance is reached, days
	WorksOn     float64 // chance that a heater works on when the season ends
	Changes     float64 // changes to another level a day
	ChangeBy    float64 // standard deviation of such a change, ratio
	OffSeason   float64 // hours out of season over those in season, ratio
	StopEvery   float64 // days between stops (moves, idle weeks), before any is seen, days
	StopWeight  float64 // how many stops that figure weighs, against those seen
	StopDays    float64 // length of a stop, before any is seen, days
	Tail        float64 // chance outside each end of the range
	Reach       int     // longest forecast, days

	Shapes [shapes]Weighed // height of the season over the year's mean, less 1
	Keeps  [keeps]Weighed  // share of a day's deviation that the next day still has
}

// Weighed is one value that a figure may have, with the chance of it before
// anything is seen.
type Weighed struct{ Value, Chance float64 }

const (
	shapes = 4
	keeps  = 4
)

// DefaultModel gives the figures in use.
func DefaultModel() Model {
	return Model{
		PriorHours: 10, PriorDays: 4, PriorDoubt: 0.7, OldDoubt: 0.8, OldDays: 4,
		PriorSpread: 0.25, SpreadDays: 0.06, SpreadLoss: 1.5, WeekSpread: 0.44,
		Drift: 0.02, DriftShare: 0.09, DriftDays: 45, WorksOn: 0.35, Changes: 0.0038, ChangeBy: 0.27, OffSeason: 0.1,
		StopEvery: 200, StopWeight: 0.2, StopDays: 16, Tail: 0.10, Reach: 730,
		Shapes: [shapes]Weighed{{0, 0.2}, {0.5, 0.25}, {1.2, 0.3}, {3, 0.25}},
		Keeps:  [keeps]Weighed{{0, 0.34}, {0.45, 0.17}, {0.75, 0.2}, {0.9, 0.29}},
	}
}
