package shutdown

import "time"

// Options are the thresholds of the package. Unless a comment says otherwise
// they are common practice, no source.
type Options struct {
	// satisfied
	Needed                                      float64 // points that make an ending satisfied; see points.go
	Certain                                     float64 // points that outweigh planned time off, or an empty tank
	UsualFrom                                   int     // endings from which a heater's usual switch-off temperature is used
	UsualSlackC                                 float64 // °C either side of it: sensor noise and overshoot
	NearFrom                                    int     // endings from which a steady heater's own spread may narrow that …
	NearC, NearSpreads, NearSteps               float64 // … to so many °C, median deviations, and steps of its sensor
	BandSlackC                                  float64 // °C a node's sensor may differ from the thermostat's own
	UnnamedFrom                                 int     // endings, and relights, from which a heater that cycles is taken to have a thermostat that its configuration does not name …
	UnnamedSpreadC, UnnamedLeastC, UnnamedMostC float64 // … °C: how nearly they agree, and how far apart the two temperatures are
	RelightSoon                                 time.Duration
	CallLead                                    time.Duration // how long before the end a call for heat may fall: fan and purge
	CallVain                                    time.Duration // a heater that was asked to light for so long and did not cannot: purge and three tries are over

	PlannedSlack time.Duration // people write a stop down some minutes before or after
	HoursEarly   time.Duration // a thermostat's doing this long before planned hours off is its own, not theirs …
	StopEarly    time.Duration // … and before a planned stop was written down
	PlannedLeast time.Duration // a heater lit again sooner was not switched off for a planned stop
	SupplyLead   time.Duration // how long before the end the mains may have gone: the interval of the samples

	FuelEmpty   float64       // ratio at which a tank counts as empty: the sensor's blind rest
	FuelPlenty  float64       // ratio above which fuel is not the cause
	TankLow     float64       // share of a tank's hours from which it may be empty …
	TankHigh    float64       // … and up to which; beyond, a refuel was not written down
	TankSure    float64       // share by which the hours may miss a tank's and still agree closely
	TankNear    float64       // … where nobody wrote down a fill before it lit again: a nozzle burns so much more or less than the plate says
	TankLeastH  float64       // burner hours that every heater's tank lasts
	FuelFetched time.Duration // a tank is not filled sooner by somebody who writes nothing down
	FuelRelight time.Duration // a heater out of fuel is not filled, bled and lit again within
	LastDrops   time.Duration // what line and pump hold, a tenth of a litre or so, burns no longer than this, in all the tries of its own control

	Together     time.Duration // endings this near are one event of the site: who stops them goes from one to the next, and flames die down
	TogetherSure time.Duration // one that the thermostat may explain belongs to such an event only where the readings tell so closely that they were together
	AtOnce       time.Duration // … or where their counters place them so closely that it was the same moment: whole seconds of two counters, and of two clocks
	BackTogether time.Duration // heaters that light again this near got their mains back: purges differ
	Several      int           // so many together are one event whoever else stays lit

	// checks
	ShortBurn    time.Duration // the flame hardly held
	WaxBelowC    float64       // °C; diesel's cloud point can be as high as −7 °C
	PriorVisits  float64       // visits that the order from experience elsewhere is worth
	ChecksListed int

	// patterns
	RepeatIn    time.Duration
	RepeatFrom  int
	HoldIn      time.Duration
	HoldFrom    int
	RetryWithin time.Duration // endings of short burns this close are retries of one shutdown
	PatternFrom int           // smallest sample of the clustering tests
	PatternP    float64       // p below which clustering is told

	// trend
	TrendFrom  int     // separate endings
	Confidence float64 // of the interval of the mean time between endings
	TrendP     float64 // two-sided level at which a test speaks of a trend
}

// DefaultOptions are the figures of a fresh installation.
func DefaultOptions() Options {
	return Options{
		Needed: 2, Certain: 4,
		UsualFrom: 4, UsualSlackC: 0.5, BandSlackC: 1,
		NearFrom: 8, NearC: 0.3, NearSpreads: 6, NearSteps: 3.2,
		UnnamedFrom: 6, UnnamedSpreadC: 0.35, UnnamedLeastC: 0.8, UnnamedMostC: 6,
		RelightSoon: 2 * time.Minute, CallLead: 2 * time.Minute, CallVain: 15 * time.Minute,
		PlannedSlack: 10 * time.Minute, PlannedLeast: 5 * time.Minute, HoursEarly: time.Minute, StopEarly: 4 * time.Minute, SupplyLead: 2 * time.Minute,
		FuelEmpty: 0.05, FuelPlenty: 0.15, TankLow: 0.90, TankHigh: 1.10, TankSure: 0.03, TankNear: 0.08, TankLeastH: 4, FuelFetched: 40 * time.Minute, FuelRelight: 5 * time.Minute, LastDrops: 2 * time.Minute,
		Together: 30 * time.Second, TogetherSure: 3 * time.Minute, AtOnce: 20 * time.Second, BackTogether: 45 * time.Second, Several: 3,
		ShortBurn: 3 * time.Minute, WaxBelowC: -7, PriorVisits: 8, ChecksListed: 5,
		RepeatIn: 24 * time.Hour, RepeatFrom: 3,
		HoldIn: time.Hour, HoldFrom: 3,
		RetryWithin: 15 * time.Minute, PatternFrom: 6, PatternP: 0.01,
		TrendFrom: 4, Confidence: 0.90, TrendP: 0.05,
	}
}
