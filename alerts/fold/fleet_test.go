package fold_test

import (
	"fmt"
	"time"

	"heaterd/alerts/fleet"
	"heaterd/ingest/reading"
)

const benchStart = reading.Instant(1_768_197_600_000_000)

// benchFleet is n heaters, five a site and each in a space of its own.
func benchFleet(n int) fleet.Fleet { return crowdedFleet(n, 5, 1) }

// crowdedFleet is n heaters, so many a site and a space.
func crowdedFleet(n, perSite, perSpace int) fleet.Fleet {
	var f fleet.Fleet
	above := 5.0
	for i := range n {
		site, space := fmt.Sprintf("site-%d", i/perSite), fmt.Sprintf("space-%d", i%perSite/perSpace)
		if i%perSite == 0 {
			s := fleet.Site{ID: site, Zone: time.UTC}
			s.Limits.CeilingPPM, s.Limits.ShiftPPM = 200, 35
			f.Sites = append(f.Sites, s)
		}
		s := &f.Sites[len(f.Sites)-1]
		if i%perSpace == 0 {
			s.Spaces = append(s.Spaces, fleet.Space{ID: space, ProtectAboveC: &above})
		}
		f.Heaters = append(f.Heaters, fleet.Heater{
			ID: fmt.Sprintf("H-%d", i), Node: reading.NodeID(fmt.Sprintf("n-%d", i)), Site: site,
			Space: space, TankL: 52, BurnLPerH: 4.4,
			Thermostat: &fleet.Thermostat{SetpointC: 12, DifferentialC: 2},
		})
	}
	return f
}
