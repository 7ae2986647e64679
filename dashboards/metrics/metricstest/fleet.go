package metricstest

import (
	"fmt"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/dashboards/metrics"
	"heaterd/ingest"
	"heaterd/ingest/reading"
)

// Now is the time of the fleets.
var Now = reading.InstantOf(time.Date(2026, 1, 12, 9, 30, 0, 0, time.UTC))

// perSpace is how many heaters share a space, spacesPerSite how many spaces a
// site.
const (
	perSpace      = 4
	spacesPerSite = 5
)

// View makes a fleet of n heaters. Of those numbered from 0, every 20th has a
// silent node and every 50th none.
func View(n int) fold.View {
	v := fold.View{At: Now, Alarms: alarms()}
	for i := range n {
		h := heaterAt(i)
		if i%(perSpace*spacesPerSite) == 0 {
			v.Sites = append(v.Sites, siteOf(h.Site))
		}
		s := &v.Sites[len(v.Sites)-1]
		if i%perSpace == 0 {
			s.Spaces = append(s.Spaces, spaceOf(h.Site, h.Space, i/perSpace))
		}
		v.Heaters = append(v.Heaters, h)
	}
	return v
}

func siteOf(id string) fold.SiteView {
	limits, _ := exposure.Named("us-niosh")
	return fold.SiteView{Site: fleet.Site{ID: id, Name: "Site " + id, Zone: time.UTC, Limits: limits}}
}

func spaceOf(site, id string, i int) fold.SpaceView {
	co := 4 + float64(i*7%40)
	return fold.SpaceView{
		Space: fleet.Space{ID: id, VolumeM3: 900}, Site: site,
		HasCO: true, COHeard: true, COPPM: co, COAt: Now.AddSeconds(-20),
		Air: exposure.Figures{
			At: Now, PPM: co, TWA15PPM: co * 0.9, TWA8hPPM: co * 0.5, COHbPercent: 0.75 + co/16,
			Coverage15: 1, Coverage8h: 0.98,
		},
		AirChanges: &exposure.AirChange{PerH: 1.8, Low: 1.5, High: 2.1, Decays: 3},
		HasTemp:    true, TempHeard: true, TempC: 11.5, TempAt: Now.AddSeconds(-20),
	}
}

func heaterAt(i int) fold.HeaterView {
	h := fold.HeaterView{
		Heater: fleet.Heater{
			ID: fmt.Sprintf("H-%05d", i), Node: reading.NodeID(fmt.Sprintf("n-%05d", i)),
			Site:  fmt.Sprintf("site-%03d", i/perSpace/spacesPerSite),
			Space: fmt.Sprintf("space-%d", i/perSpace%spacesPerSite),
		},
		Heard: Now.AddSeconds(-float64(5 + i%25)), Lit: i%3 != 0, Silent: i%20 == 19,
		Known:    reading.Sample{Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp},
		RunHours: 120 + float64(i%300)/4, HasLevel: true, Level: 0.25 + float64(i%4)/8,
		Standings: standings(i),
		Endings:   map[outcome.Ending]int{outcome.Satisfied: 310 + i%10, outcome.Planned: 12, outcome.Unexplained: i % 4},
	}
	if h.Silent {
		h.Heard = Now.AddSeconds(-3600)
	}
	if i%50 == 49 {
		h.Node, h.Heard = "", 0
	}
	return h
}

func standings(i int) []service.Standing {
	var list []service.Standing
	for j, task := range service.Default().Tasks {
		s := service.Standing{Task: task.ID, State: service.OK}
		if j%2 == 0 {
			left := 40 - float64((i+j)%45)
			s.HoursLeft = &left
		}
		due := service.NewDate(2026, time.January, 14+(i+3*j)%60)
		s.DueOn = &due
		list = append(list, s)
	}
	return list
}

func alarms() []alarm.Alarm {
	return []alarm.Alarm{
		{Key: alarm.Key{Kind: alarm.COCeiling}, Priority: alarm.Critical, State: alarm.Unacknowledged},
		{Key: alarm.Key{Kind: alarm.FuelLow}, Priority: alarm.Low, State: alarm.Acknowledged},
		{Key: alarm.Key{Kind: alarm.FuelLow}, Priority: alarm.Low, State: alarm.Acknowledged},
		{Key: alarm.Key{Kind: alarm.NodeSilent}, Priority: alarm.Medium, State: alarm.Suppressed},
	}
}

// Options make a page of a daemon that looks after n heaters and has one of
// everything.
func Options(n int) metrics.Options {
	v := View(n)
	return metrics.Options{
		View: func() fold.View { return v },
		Ingest: func() ingest.Stats {
			return ingest.Stats{
				Messages: 91234, Duplicates: 12, Samples: 182468, Ignored: 3, Commits: 40321, Lines: 95312, Waiting: 2,
				Refused: map[reading.Reason]int64{reading.BadUnit: 7},
			}
		},
		Connected: func() bool { return true },
		Dropped:   func() int64 { return 5 },
		Unclean:   func() bool { return false },
		Alerts: func() metrics.Alerts {
			return metrics.Alerts{LagRows: 3, Turned: Now.Time()}
		},
		Outbox: func() metrics.Outbox {
			return metrics.Outbox{Pending: 1, Overdue: 4 * time.Second}
		},
		Sinks: func() []metrics.Sink {
			return []metrics.Sink{{Name: "influx", Up: true, LagRows: 40, Oldest: 2 * time.Second}}
		},
		Build: metrics.Build{Version: "v0.0.0-test", Revision: "0123456789ab"},
	}
}
