package service

// The figures of the forecast. They are fitted to invented seasons (common
// practice, no source).
const (
	priorHours  = 10.0   // burner hours a day of a heater nobody has watched yet, h
	priorDays   = 4.0    // days of watching out of season that outweigh priorHours, days
	priorDoubt  = 0.7    // standard deviation of heaters' means around priorHours, ratio
	oldDoubt    = 0.8    // standard deviation of the mean before the last six weeks around today's, ratio
	oldDays     = 4.0    // most weight the days before the last six weeks have out of season, days
	priorSpread = 0.25   // standard deviation of a day over its mean, before any is seen, ratio
	spreadDays  = 0.06   // days of watching that outweigh priorSpread, days
	spreadLoss  = 1.5    // days of watching used up by what is fitted to them, days
	weekSpread  = 0.44   // standard deviation of the weekdays' means, ratio
	drift       = 0.02   // standard deviation of the mean's wandering in the long run, ratio
	driftShare  = 0.09   // variance of that wandering per variance a day adds to a long sum, for this heater, ratio
	driftDays   = 45.0   // days in which half of the wandering's variance is reached, days
	worksOn     = 0.35   // chance that a heater works on when the season ends
	changes     = 0.0038 // changes to another level a day
	changeBy    = 0.27   // standard deviation of such a change, ratio
	outOfSeason = 0.1    // hours out of season over those in season, ratio
	stopEvery   = 200.0  // days between stops (moves, idle weeks), before any is seen, days
	stopWeight  = 0.2    // how many stops that figure weighs, against those seen
	stopDays    = 16.0   // length of a stop, before any is seen, days
	tail        = 0.10   // chance outside each end of the range
	reach       = 730    // longest forecast, days
)

// weighed is one value that a figure may have, with the chance of it before
// anything is seen.
type weighed struct{ value, chance float64 }

var (
	// shapes are the height of the season over the year's mean, less 1.
	shapes = [...]weighed{{0, 0.2}, {0.5, 0.25}, {1.2, 0.3}, {3, 0.25}}

	// keeps are the share of a day's deviation that the next day still has.
	keeps = [...]weighed{{0, 0.34}, {0.45, 0.17}, {0.75, 0.2}, {0.9, 0.29}}
)
