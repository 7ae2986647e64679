package jobsite

import (
	"fmt"
	"math/rand/v2"
	"time"

	"heaterd/ingest/reading"
)

const procedure = `Anyone who feels unwell or sees a CO alarm: leave the space, open the doors, tell the site office.
Nobody goes back in before the site's competent person has cleared the space.
Only then look at the heater.`

// prairie is the time zone of two of the demo's sites; the third lies an ocean
// away, so that each shows its own time.
const prairie = "America/Chicago"

// demoRepeat is how often the demo's script begins again.
const demoRepeat = 12 * time.Hour

// Demo describes three invented jobsites with a dozen heaters. Within six
// hours of the model each ending has happened, a tent has filled with CO
// beyond 200 ppm (the ceiling of the NIOSH REL), a node has fallen silent and
// a heater has come to the end of its service hours; the first minutes
// already show flames that come and go and CO that rises. After half a day
// the script begins again, and goes on for a month.
func Demo(seed uint64, start reading.Instant) Spec {
	rng := source(seed, "demo")
	s := Spec{Seed: seed, Start: start, Sites: []SiteSpec{demoQuay(start), demoMill(), demoRidge()}}
	n := 0
	for i := range s.Sites {
		for k := range s.Sites[i].Heaters {
			vary(&s.Sites[i].Heaters[k], rng)
			s.Sites[i].Heaters[k].HoursAtStart = demoHours[n]
			n++
		}
	}
	for from := time.Duration(0); from < 30*24*time.Hour; from += demoRepeat {
		for _, e := range demoScript() {
			e.At += from
			s.Events = append(s.Events, e)
		}
	}
	return s
}

// demoHours is what the hour meters read when the units were fitted: a service
// at 500 h comes to H-03 within the first hours, to others in days or weeks.
var demoHours = [...]float64{412.5, 87, 498.9, 941, 233.5, 655, 1464, 318, 720, 1190, 46, 278.5}

// vary gives a heater and its node the small differences that no two of a
// kind are without: ±3 % of the plate's fuel rate, ±6 % of a CO sensor's
// slope (the accuracy NIOSH 6604 states), its zero, the temperature offsets.
func vary(h *HeaterSpec, rng *rand.Rand) {
	pm := func(r float64) float64 { return r * (2*rng.Float64() - 1) }
	h.BurnFactor = 1 + pm(0.03)
	h.Node.RuntimeStart = float64(rng.IntN(2_000_000))
	h.Node.ClockOffset = time.Duration(pm(0.8) * float64(time.Second)).Truncate(time.Millisecond)
	h.Node.DriftPPM = pm(5)
	h.Node.COGain = 1 + pm(0.06)
	h.Node.COZeroPPM = pm(2)
	h.Node.TempOffsetC = pm(0.3)
	h.Node.BatteryPerD = 0.004 + pm(0.002)
	if h.Thermostat != nil {
		h.Thermostat.OffsetC += pm(0.2)
	}
}

// heaterOf is a heater of one of two usual sizes; fuel rates are plate input
// over the gross heat of kerosene, 37.63 MJ/L.
func heaterOf(id, space string, kw float64, t *Thermostat, sensors reading.Quantity) HeaterSpec {
	perH := kw * 3.6 / 37.63
	return HeaterSpec{
		ID: id, Space: space, InputKW: kw, BurnLPerH: float64(int(perH*100+0.5)) / 100, TankL: 52,
		Thermostat: t, COGPerH: 1.5,
		Node: NodeSpec{ID: "n-" + id[2:], Sensors: sensors},
	}
}

func celsius(c float64) *float64 { return &c }

const (
	mains = reading.Supply | reading.BatteryLevel
	full  = mains | reading.Call | reading.Fuel
)

// demoQuay has a generator and nodes that report it.
func demoQuay(start reading.Instant) SiteSpec {
	at := local(start.Add(4*time.Hour+30*time.Minute), prairie)
	from := time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute
	s := SiteSpec{
		ID: "quay", Name: "Quay Street hall", Zone: prairie, Limits: "us-niosh", Activity: "heavy",
		Procedure: procedure, Contact: "Site office", Phone: "000 100", MeanC: -1, SwingC: 3, WanderC: 0.7,
		PlannedOff: []OffHours{{Days: []time.Weekday{at.Weekday()}, From: from, To: (from + 45*time.Minute) % (24 * time.Hour)}},
		Spaces: []SpaceSpec{
			{ID: "hall", Name: "Hall", VolumeM3: 1800, TauH: 1.5, LossKWPerK: 5, AirPerH: 1.2, BackgroundPPM: 1, StartC: 12.4, ProtectAboveC: celsius(5)},
			{ID: "store", Name: "Store", VolumeM3: 400, TauH: 3, LossKWPerK: 0.5, AirPerH: 0.8, BackgroundPPM: 1, StartC: 9.6, ProtectAboveC: celsius(3)},
		},
		Heaters: []HeaterSpec{
			heaterOf("H-01", "hall", 44, &Thermostat{SetpointC: 13, DifferentialC: 2}, full),
			heaterOf("H-02", "hall", 44, &Thermostat{SetpointC: 12.8, DifferentialC: 2}, full),
			heaterOf("H-03", "hall", 32, &Thermostat{SetpointC: 13.6, DifferentialC: 2}, full),
			heaterOf("H-04", "store", 32, &Thermostat{SetpointC: 9, DifferentialC: 2, Band: OffAbove}, mains),
		},
	}
	s.Heaters[2].Dusty = true
	return s
}

// local gives the time in a zone; of one that does not exist New will tell.
func local(at reading.Instant, zone string) time.Time {
	if z, err := time.LoadLocation(zone); err == nil {
		return at.Time().In(z)
	}
	return at.Time()
}

// demoMill has no sensors beyond the standard four.
func demoMill() SiteSpec {
	return SiteSpec{
		ID: "mill", Name: "Mill Lane block", Zone: "Europe/London", Limits: "uk-eh40", Activity: "light",
		Procedure: procedure, Contact: "Gate", Phone: "000 200", MeanC: -1, SwingC: 2, WanderC: 0.7,
		Spaces: []SpaceSpec{
			{ID: "ground", Name: "Ground floor", VolumeM3: 1200, TauH: 1.8, LossKWPerK: 4, AirPerH: 1.5, BackgroundPPM: 1, StartC: 10, ProtectAboveC: celsius(5)},
			{ID: "upper", Name: "Upper floor", VolumeM3: 900, TauH: 1.5, LossKWPerK: 3.6, AirPerH: 2, BackgroundPPM: 1, StartC: 14.5},
		},
		Heaters: []HeaterSpec{
			heaterOf("H-05", "ground", 44, &Thermostat{SetpointC: 11, DifferentialC: 2}, 0),
			heaterOf("H-06", "ground", 44, &Thermostat{SetpointC: 10.8, DifferentialC: 2}, 0),
			heaterOf("H-07", "upper", 44, nil, 0),
			heaterOf("H-08", "upper", 32, &Thermostat{SetpointC: 16, DifferentialC: 2, Band: OnBelow}, 0),
		},
	}
}

// demoRidge has the tent that fills with CO.
func demoRidge() SiteSpec {
	s := SiteSpec{
		ID: "ridge", Name: "Ridge tents", Zone: prairie, Limits: "us-niosh", Activity: "heavy",
		Procedure: procedure, Contact: "Foreman's hut", Phone: "000 300", MeanC: -4, SwingC: 3, WanderC: 0.7,
		Spaces: []SpaceSpec{
			{ID: "tent", Name: "Pour tent", VolumeM3: 600, TauH: 2, LossKWPerK: 2.4, AirPerH: 2.5, BackgroundPPM: 1, StartC: 14, ProtectAboveC: celsius(10)},
			{ID: "shed", Name: "Tool shed", VolumeM3: 300, TauH: 1.5, LossKWPerK: 1.3, AirPerH: 1, BackgroundPPM: 1, StartC: 8.8},
		},
		Heaters: []HeaterSpec{
			heaterOf("H-09", "tent", 44, nil, reading.Fuel),
			heaterOf("H-10", "tent", 44, &Thermostat{SetpointC: 26, DifferentialC: 2}, 0),
			heaterOf("H-11", "shed", 32, &Thermostat{SetpointC: 9, DifferentialC: 2}, reading.Call),
			heaterOf("H-12", "shed", 20, &Thermostat{SetpointC: 9.2, DifferentialC: 2}, reading.Fuel|reading.BatteryVolts),
		},
	}
	s.Heaters[0].StartFuel = 0.22 // about two and a half hours
	return s
}

// demoScript is what goes wrong in the demo.
func demoScript() []Event {
	m := time.Minute
	return []Event{
		{At: 0, Kind: RunDry, Heater: "H-09"},
		{At: 3 * m, Kind: Seal, Site: "ridge", Space: "tent", For: 85 * m, Value: 0.3},
		{At: 3 * m, Kind: Foul, Site: "ridge", Space: "tent", For: 85 * m, Value: 70},
		{At: 6 * m, Kind: FlameOut, Heater: "H-07", WaitLit: 1, For: 5 * m},
		{At: 14 * m, Kind: SwitchOff, Heater: "H-07", WaitLit: 1, For: 40 * m, Lead: -4 * m},
		{At: 25 * m, Kind: FlameOut, Heater: "H-02", WaitLit: 1, For: m},
		{At: 70 * m, Kind: SupplyCut, Site: "quay", WaitLit: 2, For: 12 * m},
		{At: 95 * m, Kind: Silence, Heater: "H-04", WaitLit: 1, For: 100 * m},
		{At: 120 * m, Kind: Gust, Site: "mill", WaitLit: 3, For: m},
		{At: 150 * m, Kind: NotHolding, Heater: "H-12", WaitLit: 1, For: 20 * m, Value: 20},
		{At: 180 * m, Kind: FlameOut, Heater: "H-07", WaitLit: 1, For: 60 * m},
		{At: 200 * m, Kind: SwitchOff, Heater: "H-01", WaitLit: 1, For: 50 * m, Lead: 3 * m},
		{At: 210 * m, Kind: Outage, Heater: "H-06", For: 35 * m},
		{At: 240 * m, Kind: Reboot, Heater: "H-08"},
		{At: 270 * m, Kind: FlameOut, Heater: "H-07", WaitLit: 1, For: 2 * m},
		{At: 300 * m, Kind: ClockStep, Heater: "H-04", Value: -3600, For: 30 * m},
		{At: 320 * m, Kind: FlameOut, Heater: "H-07", WaitLit: 1, For: 75 * m},
	}
}

// nodeName numbers nodes and heaters alike.
func nodeName(prefix string, i int) string { return fmt.Sprintf("%s-%03d", prefix, i+1) }
