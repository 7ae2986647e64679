package jobsite

import (
	"cmp"
	"math/rand/v2"
	"time"

	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
)

// LabelSpec sizes a labelled set. Zero values: 30 s, no loss, 14 days, 20
// heaters, nothing forgotten, honest clocks, from Monday 12 January 2026.
type LabelSpec struct {
	Reporting   time.Duration
	Days        int
	Heaters     int
	Forget      float64 // probability that a refuel or a stop is not written down
	ClockFaults bool    // some node clocks an hour slow, 20 min fast, or stepped
	Start       reading.Instant
	Delivery    DeliverySpec
}

// labelStart is 2026-01-12T00:00:00Z, a Monday.
const labelStart = reading.Instant(1768176000e6)

func (l LabelSpec) filled() LabelSpec {
	l.Reporting = cmp.Or(l.Reporting, restInterval)
	l.Days = cmp.Or(l.Days, 14)
	l.Heaters = cmp.Or(l.Heaters, 20)
	l.Start = cmp.Or(l.Start, labelStart)
	return l
}

// Labelled runs weeks of mixed faults and gives the configuration, what
// arrived, and what really happened. Satisfied thermostats dominate, as in
// life; over about 14 days of 20 heaters every other ending comes at least
// twenty times.
func Labelled(seed uint64, spec LabelSpec) (configYAML string, lines []capture.Line, truth Truth, err error) {
	spec = spec.filled()
	w, err := NewWorld(labelledWorld(seed, spec))
	if err != nil {
		return "", nil, Truth{}, err
	}
	messages := w.Step(time.Duration(spec.Days) * 24 * time.Hour)
	lines = Deliver(seed, messages, w.Acts(), spec.Delivery)
	return w.FleetYAML(), lines, w.Truth(), nil
}

// perSite is the number of heaters on one site of a labelled set.
const perSite = 5

func labelledWorld(seed uint64, l LabelSpec) Spec {
	rng := source(seed, "labelled")
	s := Spec{Seed: seed, Start: l.Start, Forget: l.Forget}
	for left := l.Heaters; left > 0; left -= perSite {
		s.Sites = append(s.Sites, labelledSite(len(s.Sites), min(left, perSite), l, rng))
	}
	f := faults{rng: rng, sites: s.Sites, span: time.Duration(l.Days) * 24 * time.Hour}
	s.Events = f.draw(l)
	return s
}

// siteKinds are the sensors of the nodes of a site, in turn: what an add-on
// unit has differs from site to site, not within one.
var siteKinds = []reading.Quantity{full, 0, mains, reading.Call}

func labelledSite(i, heaters int, l LabelSpec, rng *rand.Rand) SiteSpec {
	s := SiteSpec{
		ID: nodeName("site", i), Name: nodeName("Site", i), Zone: "UTC", Limits: "us-niosh", Activity: "light", Procedure: procedure,
		MeanC: -4 + 6*rng.Float64(), SwingC: 3, WanderC: 2,
		Spaces: []SpaceSpec{labelledSpace("hall", 1800, 5, rng), labelledSpace("tent", 700, 1.3, rng), labelledSpace("store", 500, 2, rng)},
	}
	if i%4 == 3 {
		s.PlannedOff = []OffHours{{Days: []time.Weekday{time.Monday, time.Wednesday, time.Friday}, From: 19 * time.Hour, To: 4 * time.Hour}}
	}
	for k := range heaters {
		s.Heaters = append(s.Heaters, labelledHeater(i, k, l, rng))
	}
	return s
}

func labelledSpace(id string, m3, loss float64, rng *rand.Rand) SpaceSpec {
	return SpaceSpec{
		ID: id, VolumeM3: m3, TauH: 2 + 2*rng.Float64(), LossKWPerK: loss, AirPerH: 0.8 + 2*rng.Float64(),
		BackgroundPPM: 0.5 + 1.5*rng.Float64(), StartC: 10, ProtectAboveC: celsius(3),
	}
}

func labelledHeater(site, k int, l LabelSpec, rng *rand.Rand) HeaterSpec {
	space, kw := "hall", 44.0
	switch k {
	case perSite - 2:
		space, kw = "tent", 32
	case perSite - 1:
		space, kw = "store", 32
	}
	i := site*perSite + k
	bands := []Band{OffAbove, OnBelow, Straddle}
	t := &Thermostat{SetpointC: 11 + 0.6*rng.Float64(), DifferentialC: 1.5 + rng.Float64(), Band: bands[site%len(bands)]}
	if k == perSite-1 && site%2 == 0 {
		t = nil
	}
	h := heaterOf(nodeName("H", i), space, kw, t, siteKinds[site%len(siteKinds)])
	h.Node.ID = nodeName("n", i)
	h.Node.Interval = l.Reporting
	h.HoursAtStart = float64(rng.IntN(3000))
	vary(&h, rng)
	return h
}
