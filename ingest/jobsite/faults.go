package jobsite

import (
	"math/rand/v2"
	"time"

	"heaterd/ingest/reading"
)

// faults draws the events of a labelled set.
type faults struct {
	rng    *rand.Rand
	sites  []SiteSpec
	span   time.Duration
	events []Event
}

// leastOfAKind keeps every class populated in small sets; the rates per day
// and 20 heaters below are far above those of life, to have enough of each.
const leastOfAKind = 30

// endMargin keeps what takes long from running into the end of the set.
const endMargin = 10 * time.Hour

func (f *faults) draw(l LabelSpec) []Event {
	scale := float64(l.Days) * float64(l.Heaters) / 20
	count := func(perDay float64) int { return max(int(perDay*scale), leastOfAKind) }
	f.some(count(1.5), f.lockout)
	f.some(count(1), f.relight)
	f.some(count(4), f.planned)
	f.some(count(2.5), f.dry)
	f.some(count(3.5), f.silence)
	f.some(count(1), f.cut)
	f.some(count(1.2), f.gust)
	f.some(max(l.Days/3, 2), f.shortCycling)
	f.some(max(l.Days/2, 2), f.outage)
	f.some(max(l.Days/5, 1), f.counter)
	f.some(max(l.Days/3, 2), f.badAir)
	f.evenings(l.Days)
	if l.ClockFaults {
		f.some(max(l.Days/3, 3), f.clock)
	}
	return f.events
}

// evenings has someone switch off every heater without a thermostat at the
// end of most working days, and on again in the morning.
func (f *faults) evenings(days int) {
	for _, s := range f.sites {
		for _, h := range s.Heaters {
			if h.Thermostat != nil {
				continue
			}
			for d := range days - 1 {
				at := time.Duration(d)*24*time.Hour + 17*time.Hour + f.minutes(0, 120)
				lead := time.Duration(f.rng.IntN(481)-240) * time.Second
				f.events = append(f.events, Event{At: at, Kind: SwitchOff, Heater: h.ID, For: 11 * time.Hour, Lead: lead})
			}
		}
	}
}

// some draws n events of a kind, spread evenly but for chance.
func (f *faults) some(n int, draw func(i int) Event) {
	usable := f.span - endMargin
	for i := range n {
		e := draw(i)
		slot := float64(usable) / float64(n)
		e.At = time.Duration((float64(i) + f.rng.Float64()) * slot).Truncate(time.Second)
		f.events = append(f.events, e)
	}
}

func (f *faults) heater() string {
	s := &f.sites[f.rng.IntN(len(f.sites))]
	return s.Heaters[f.rng.IntN(len(s.Heaters))].ID
}

// siteOf picks a site whose nodes report the supply, or one whose do not.
func (f *faults) siteOf(reports bool) string {
	var ids []string
	for _, s := range f.sites {
		if (s.Heaters[0].Node.Sensors&reading.Supply != 0) == reports {
			ids = append(ids, s.ID)
		}
	}
	if len(ids) == 0 {
		return f.sites[0].ID
	}
	return ids[f.rng.IntN(len(ids))]
}

func (f *faults) minutes(lo, hi int) time.Duration {
	return time.Duration(lo*60+f.rng.IntN((hi-lo)*60+1)) * time.Second
}

func (f *faults) lockout(int) Event {
	return Event{Kind: FlameOut, Heater: f.heater(), WaitLit: 1, For: f.minutes(60, 480)}
}

func (f *faults) relight(int) Event {
	return Event{Kind: FlameOut, Heater: f.heater(), WaitLit: 1, For: f.minutes(1, 3)}
}

func (f *faults) planned(int) Event {
	lead := time.Duration(f.rng.IntN(481)-240) * time.Second
	return Event{Kind: SwitchOff, Heater: f.heater(), WaitLit: 1, For: f.minutes(30, 240), Lead: lead}
}

func (f *faults) dry(int) Event { return Event{Kind: RunDry, Heater: f.heater()} }

func (f *faults) silence(int) Event {
	return Event{Kind: Silence, Heater: f.heater(), WaitLit: 1, For: f.minutes(120, 480)}
}

func (f *faults) cut(int) Event {
	return Event{Kind: SupplyCut, Site: f.siteOf(true), WaitLit: 2, For: f.minutes(5, 90)}
}

// gust is a gust or, every third time, a supply cut that no node can report.
func (f *faults) gust(i int) Event {
	e := Event{Kind: Gust, Site: f.siteOf(false), WaitLit: 3, For: f.minutes(1, 4)}
	if i%3 == 2 {
		e.Kind, e.For = SupplyCut, f.minutes(5, 60)
	}
	return e
}

func (f *faults) shortCycling(int) Event {
	return Event{Kind: NotHolding, Heater: f.heater(), WaitLit: 1, For: f.minutes(5, 20), Value: 45}
}

// outage is minutes to two days; what was kept arrives before the end.
func (f *faults) outage(i int) Event {
	most := min(2*24*60, int(f.span.Minutes())/6)
	return Event{Kind: Outage, Heater: f.heater(), For: min(f.minutes(3, 10)<<(i%9), time.Duration(most)*time.Minute)}
}

func (f *faults) counter(i int) Event {
	if i%2 == 0 {
		return Event{Kind: Reboot, Heater: f.heater()}
	}
	return Event{Kind: Swap, Heater: f.heater(), Value: float64(f.rng.IntN(3_000_000))}
}

func (f *faults) badAir(i int) Event {
	s := f.sites[f.rng.IntN(len(f.sites))]
	if i%2 == 0 {
		return Event{Kind: Seal, Site: s.ID, Space: s.Spaces[0].ID, For: f.minutes(60, 240), Value: 0.3}
	}
	return Event{Kind: Foul, Site: s.ID, Space: s.Spaces[0].ID, For: f.minutes(60, 240), Value: 20}
}

func (f *faults) clock(i int) Event {
	steps := []float64{-3600, 1200, 90}
	return Event{Kind: ClockStep, Heater: f.heater(), Value: steps[i%len(steps)], For: f.minutes(60, 600)}
}
