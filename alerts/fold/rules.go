package fold

import (
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/burner"
	"heaterd/alerts/service"
	"heaterd/alerts/shutdown"
	"heaterd/alerts/trust"
)

// Rules are the figures of the engine that the configuration may change.
// Where no source is named they are common practice.
type Rules struct {
	Lateness time.Duration // how long a sample may be overtaken by later ones
	Backlog  time.Duration // how long a node may buffer what it could not send
	Tick     time.Duration // how often what depends on time alone is looked at
	Settle   time.Duration // how often what can no longer be overtaken is folded for good: seldom enough that it is several readings

	Together     time.Duration // endings this near may be one event of the site
	AftermathFor time.Duration // how long after an ending the heater is followed
	BurnsAfter   int           // burns after one that settle where the heater usually switches off
	HabitFor     time.Duration // how long to wait for them
	JudgeAfter   time.Duration // how long an ending waits for its neighbours before anyone is told
	RefillRise   float64       // ratio; a level that rises so much from one reading to the next was a refill
	NotedWithin  time.Duration // a refuel written down so soon after the heater lit again was before it
	NotedLit     time.Duration // … and, where the tank had run dry by the hours, while it burned on since
	FuelLow      float64       // ratio of the tank at which fuel-low is raised
	NeverHeard   time.Duration // how long a node may take to be heard the first time
	ForecastFrom float64       // ppm from which a forecast is worth its time
	ColdWithin   time.Duration // a space that will be too cold within is told: time to come and do something

	Burner   burner.Options
	Shutdown shutdown.Options
	Alarms   []alarm.Rule
	Plan     service.Plan
	Season   service.HeatingSeason
}

// DefaultRules are the figures of a fresh installation.
func DefaultRules() Rules {
	return Rules{
		Lateness:     10 * time.Minute,
		Backlog:      7 * 24 * time.Hour,
		Tick:         30 * time.Second,
		Settle:       5 * time.Minute,
		Together:     time.Minute,
		AftermathFor: 6 * time.Hour,
		BurnsAfter:   4,
		HabitFor:     48 * time.Hour,
		JudgeAfter:   90 * time.Second,
		RefillRise:   0.10,
		NotedWithin:  10 * time.Minute,
		NotedLit:     3 * time.Hour,
		FuelLow:      0.15,
		NeverHeard:   15 * time.Minute,
		ForecastFrom: 10,
		ColdWithin:   3 * time.Hour,
		Burner:       burner.DefaultOptions(),
		Shutdown:     shutdown.DefaultOptions(),
		Alarms:       alarm.Rules(),
		Plan:         service.Default(),
		Season:       service.DefaultSeason(),
	}
}

// patience is how old a sample gets before what a node may have kept from
// before it is waited for no longer.
func (r *Rules) patience() time.Duration { return r.Backlog + r.Lateness }

// keptMost is how old a stamp can be that is right: what a node may keep, and a
// day on its way.
func (r *Rules) keptMost() time.Duration { return max(r.Backlog+24*time.Hour, trust.BufferedMost) }
