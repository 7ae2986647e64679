package fold_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// tally is what some nights came to.
type tally struct {
	nights, cold, warned int // warned half an hour ahead or more
	told, right, near    int // near: within 1 °C of the limit in the end
	early, late          int // of the right: outside the range that was told
	leads                []float64
	wrong                []string
}

type warning struct{ at, early, late float64 } // h

// live lets a hut stand for some days, and counts from the second night on.
func (h *hut) live(t *testing.T, name string, act func(hour float64, p *play), thermostats bool, sum *tally) {
	const days = 6
	p := h.begin(t, thermostats)
	from := benchStart.Seconds(0) / 3600
	var warnings []warning
	var cold, lowest []float64
	for m := range days * 24 * 60 {
		at := float64(m) / 60
		if act != nil {
			act(at, p)
		}
		h.minute(from + at)
		lowest = append(lowest, h.tell(p, m))
		for _, s := range p.said {
			f := &s.Alarm.Findings
			switch raised := s.To == alarm.Unacknowledged && (s.From == alarm.Normal || s.From == alarm.Returned); {
			case at < 24:
			case s.Alarm.Kind == alarm.SpaceCold && (raised || s.To == alarm.Suppressed) && (len(cold) == 0 || at-cold[len(cold)-1] > 3):
				cold = append(cold, at)
			case s.Alarm.Kind == alarm.SpaceCooling && raised:
				warnings = append(warnings, warning{at, f.HarmEarly.Hours(), f.HarmLate.Hours()})
			}
		}
		p.said = p.said[:0]
	}
	sum.nights += days - 1
	sum.count(name, h.limit, warnings, cold, lowest)
}

func (s *tally) count(name string, limit float64, warnings []warning, cold, lowest []float64) {
	const within = 8.0 // h
	s.cold += len(cold)
	for _, c := range cold {
		for _, w := range slices.Backward(warnings) {
			if d := c - w.at; d >= 0 && d < within {
				s.leads = append(s.leads, d)
				if d >= 0.5 {
					s.warned++
				}
				break
			}
		}
	}
	for _, w := range warnings {
		s.told++
		i := slices.IndexFunc(cold, func(c float64) bool { return c >= w.at-0.1 && c < w.at+within })
		least := slices.Min(lowest[int(w.at*60):min(int((w.at+within)*60), len(lowest))])
		switch {
		case i >= 0:
			s.right++
			if cold[i] < w.at+w.early-0.1 {
				s.early++
			}
			if w.late > 0 && cold[i] > w.at+w.late+0.1 {
				s.late++
			}
		case least < limit+1:
			s.near++
		default:
			s.wrong = append(s.wrong, fmt.Sprintf("%s, %.1f h: fell no lower than %.1f °C", name, w.at, least))
		}
	}
}

func (s *tally) String() string {
	mean := 0.0
	for _, l := range s.leads {
		mean += l / float64(len(s.leads))
	}
	return fmt.Sprintf("%d nights; too cold %d times, told 30 min ahead of %d, mean lead %.1f h; told %d times: right %d (%d before, %d after the range), within 1 °C %d, else %d",
		s.nights, s.cold, s.warned, mean, s.told, s.right, s.early, s.late, s.near, len(s.wrong))
}

// night is a way in which nights go.
type night struct {
	name        string
	least, most float64 // heat, × what a cold night takes
	enough      bool
	act         func(h *hut, r *rand.Rand) func(hour float64, p *play)
}

var nights = []night{
	{"ample heat", 1.3, 3, true, nil},
	{"ample heat, doors open for deliveries", 1.3, 3, true, func(h *hut, r *rand.Rand) func(float64, *play) {
		until := 0.0
		return func(hour float64, _ *play) {
			if hour < until {
				return
			}
			h.door = 1
			if day := math.Mod(hour+6, 24); day > 7 && day < 18 && r.Float64() < 1.0/180 {
				h.door, until = between(r, 2, 6), hour+between(r, 5, 30)/60
			}
		}
	}},
	{"just enough heat", 0.8, 1.2, true, nil},
	{"too little heat", 0.4, 0.8, false, nil},
	{"door left open overnight", 1.2, 2, false, func(h *hut, _ *rand.Rand) func(float64, *play) {
		return func(hour float64, _ *play) {
			h.door = 1
			if x := math.Mod(hour, 48); x > 34 && x < 46 {
				h.door = 3
			}
		}
	}},
	{"heat that fades", 1.2, 2, false, func(h *hut, _ *rand.Rand) func(float64, *play) {
		return func(hour float64, _ *play) {
			h.fade = 1
			if x := math.Mod(hour, 48); x > 34 && x < 46 {
				h.fade = max(0.25, 1-(x-34)/3)
			}
		}
	}},
	{"switched off overnight", 1.2, 2, false, func(h *hut, _ *rand.Rand) func(float64, *play) {
		h.off = func(hour float64) bool { x := math.Mod(hour, 24); return x >= 18 || x < 5 }
		return func(hour float64, p *play) {
			if math.Abs(math.Mod(hour+6, 24)-18) > 1e-6 {
				return
			}
			p.now = benchStart.AddSeconds(hour * 3600)
			for i := range h.burners {
				p.step(record.Line{Stop: &record.PlannedStop{Heater: fmt.Sprintf("H-%d", i), For: 11 * time.Hour}})
			}
		}
	}},
}

var huts = flag.Int("huts", 6, "how many spaces live through each kind of nights")

// Figures were chosen on seeds below 1,000.
func TestNightsThatGetTooColdAreToldAhead(t *testing.T) {
	first, n := uint64(1000), uint64(*huts)
	if testing.Short() {
		n = 2
	}
	var enough, lacking tally
	for _, k := range nights {
		var sum tally
		for seed := first; seed < first+n; seed++ {
			r := rand.New(rand.NewPCG(seed, 5))
			h := newHut(seed, between(r, k.least, k.most))
			var act func(float64, *play)
			if k.act != nil {
				act = k.act(h, r)
			}
			all := &lacking
			if k.enough {
				all = &enough
			}
			was := len(sum.wrong)
			h.live(t, fmt.Sprintf("%s, seed %d", k.name, seed), act, seed%2 == 0, &sum)
			all.wrong = append(all.wrong, sum.wrong[was:]...)
		}
		if k.enough {
			enough.nights += sum.nights
		} else {
			lacking.nights, lacking.cold, lacking.warned = lacking.nights+sum.nights, lacking.cold+sum.cold, lacking.warned+sum.warned
		}
		t.Logf("%s: %v", k.name, &sum)
	}
	if len(enough.wrong)*200 > enough.nights {
		t.Errorf("told of spaces that have heat enough: %q", enough.wrong)
	}
	if lacking.warned*10 < lacking.cold*7 {
		t.Errorf("told ahead of %d of %d", lacking.warned, lacking.cold)
	}
	if len(lacking.wrong)*10 > lacking.nights {
		t.Errorf("%d of %d nights told in vain: %q", len(lacking.wrong), lacking.nights, lacking.wrong)
	}
}

// course is one heater that burns on in a space to be kept above 5 °C.
func course(t *testing.T) *play {
	p := newPlay(t, 1)
	limit := 5.0
	p.fleet.Sites[0].Spaces[0].ProtectAboveC = &limit
	p.fleet.Heaters[0].Thermostat = &fleet.Thermostat{SetpointC: 9, DifferentialC: 2}
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	return p
}

// go on for some minutes while it gets warmer by so much an hour.
func (p *play) drift(minutes int, tempC *float64, perHour float64, lit bool) {
	for range minutes {
		p.now = p.now.Add(time.Minute)
		*tempC += perHour / 60
		x := reading.Sample{At: p.now, Has: reading.Flame | reading.Runtime | reading.Temp, Temp: float32(math.Round(*tempC*10) / 10)}
		if lit {
			p.run["n-0"] += 60
			x.On = reading.Flame
		}
		x.Runtime = p.run["n-0"]
		p.send("n-0", x)
	}
}

func (p *play) cooling() (alarm.Alarm, bool) {
	for _, a := range p.engine.View().Alarms {
		if a.Kind == alarm.SpaceCooling {
			return a, true
		}
	}
	return alarm.Alarm{}, false
}

func TestALitHeaterThatDoesNotHoldIsToldAhead(t *testing.T) {
	p, c := course(t), 12.0
	p.drift(60, &c, 0, true)
	p.drift(180, &c, -1, true)
	if a, is := p.cooling(); is {
		t.Fatalf("told at %.1f °C: %s", c, a.Text)
	}
	p.restart()
	p.drift(120, &c, -1, true)
	a, is := p.cooling()
	if !is || a.State != alarm.Unacknowledged || !a.Findings.HasHarm || a.Findings.HarmEarly > 150*time.Minute || a.Findings.HarmEarly < 90*time.Minute {
		t.Fatalf("at %.1f °C: %v %+v", c, is, a)
	}
	p.wait(2 * time.Hour)
	if a, is = p.cooling(); !is || !a.Active {
		t.Fatal("silence ended it")
	}
	c += 1 // a door was closed
	p.drift(90, &c, 1, true)
	if a, is = p.cooling(); !is || a.State != alarm.Returned {
		t.Fatalf("it warms: %v %+v", is, a)
	}
}

func TestWhatASpaceFellToIsShownUnderThat(t *testing.T) {
	p, c := course(t), 9.0
	p.drift(60, &c, 0, true)
	p.drift(300, &c, -1, true)
	a, is := p.cooling()
	if a.Priority != alarm.High {
		t.Errorf("%s, more than when it is too cold", a.Priority)
	}
	if n := p.count(alarm.SpaceCold, alarm.Unacknowledged); n != 1 || !is || a.State != alarm.Suppressed {
		t.Errorf("cold told %d times, %+v", n, a)
	}
	c = 6
	p.drift(120, &c, 2, true)
	if _, is = p.cooling(); is {
		t.Error("it goes on though the space is warm")
	}
}

// A space that is too cold is told once, and not each time that its heater, which
// goes out again and again, has lit.
func TestColdIsNotToldAnewEachTimeTheHeaterLights(t *testing.T) {
	p, c := course(t), 2.0
	p.drift(20, &c, 0, true)
	for range 6 {
		p.drift(20, &c, 0, false)
		p.drift(30, &c, 0, true)
	}
	if n := p.count(alarm.ShutdownUnexplained, alarm.Unacknowledged); n < 3 {
		t.Fatalf("it went out %d times", n)
	}
	if n := p.count(alarm.SpaceCold, alarm.Unacknowledged); n != 1 {
		t.Errorf("cold told %d times, want once", n)
	}
}

func TestAThermostatsSawToothIsNoCourse(t *testing.T) {
	p, c := course(t), 9.0
	for range 12 {
		p.drift(90, &c, -1.5, false)
		p.drift(20, &c, 6.75, true)
	}
	if n := p.count(alarm.SpaceCooling, alarm.Unacknowledged); n > 0 {
		t.Errorf("told %d times", n)
	}
}

func TestAHeaterOutOfServiceLightsNoMore(t *testing.T) {
	p, c := course(t), 9.0
	for range 8 {
		p.drift(90, &c, -1.5, false)
		p.drift(20, &c, 6.75, true)
	}
	p.step(record.Line{Answer: &record.Answer{Act: record.OutOfService, Heater: "H-0", By: "mara", Role: alarm.Technician, Why: "on the bench"}})
	p.drift(90, &c, -1.5, false)
	if n := p.count(alarm.SpaceCooling, alarm.Unacknowledged); n != 1 {
		t.Errorf("told %d times", n)
	}
	p.step(record.Line{Answer: &record.Answer{Act: record.InService, Heater: "H-0", By: "mara", Role: alarm.Technician}})
	for range 3 {
		p.drift(20, &c, 6.75, true)
		p.drift(90, &c, -1.5, false)
	}
	if a, is := p.cooling(); !is || a.State != alarm.Returned {
		t.Errorf("it cycles again: %+v", a)
	}
}
