package fold_test

import (
	"math"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// play is an engine with heaters that burn all the time, and what it said.
type play struct {
	t      *testing.T
	engine *fold.Engine
	fleet  fleet.Fleet
	now    reading.Instant
	run    map[reading.NodeID]float64 // s on each node's counter
	said   []alarm.Transition
}

func newPlay(t *testing.T, heaters int) *play {
	f := benchFleet(heaters)
	for i := range f.Heaters {
		f.Heaters[i].Space = "space-0"
	}
	return &play{t: t, engine: fold.New(f, fold.DefaultRules()), fleet: f, now: benchStart, run: map[reading.NodeID]float64{}}
}

func (p *play) step(l record.Line) {
	l.At = p.now
	p.said = append(p.said, p.engine.Step(l).Transitions...)
}

// sample is a burning heater's reading now.
func (p *play) sample(node reading.NodeID) reading.Sample {
	return reading.Sample{
		At: p.now, Has: reading.Flame | reading.Runtime | reading.CO | reading.Temp, On: reading.Flame,
		Runtime: p.run[node], CO: 6, Temp: 11,
	}
}

func (p *play) send(node reading.NodeID, xs ...reading.Sample) {
	p.step(record.Line{Pack: &reading.Pack{Node: node, Samples: xs}})
}

// burn lets nodes report every 30 s for a while, all burning.
func (p *play) burn(d time.Duration, nodes ...reading.NodeID) {
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		for _, n := range nodes {
			p.run[n] += 30
			p.send(n, p.sample(n))
		}
	}
}

// wait lets time pass without a word.
func (p *play) wait(d time.Duration) {
	p.now = p.now.Add(d)
	p.step(record.Line{})
}

func (p *play) hours(i int) float64 { return p.engine.View().Heaters[i].Hours.Hours }

// count gives how often alarms of a kind came to a state.
func (p *play) count(k alarm.Kind, s alarm.State) int {
	n := 0
	for _, t := range p.said {
		if t.Alarm.Kind == k && t.To == s {
			n++
		}
	}
	return n
}

func (p *play) restart() {
	body, err := p.engine.Snapshot()
	if err != nil {
		p.t.Fatal(err)
	}
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	if err := p.engine.Restore(body); err != nil {
		p.t.Fatal(err)
	}
}

func TestHoursStayWhenTheNodeMoves(t *testing.T) {
	p := newPlay(t, 2)
	p.run["n-0"] = 500_000
	p.burn(2*time.Hour, "n-0")
	p.step(record.Line{Entry: &record.Entry{Heater: "H-1", Task: "fit-node", Node: "n-0"}})
	p.burn(3*time.Hour, "n-0")
	p.restart()
	p.burn(time.Hour, "n-0")
	if a, b := p.hours(0), p.hours(1); math.Abs(a-2) > 0.02 || math.Abs(b-4) > 0.02 {
		t.Errorf("hours %.3f and %.3f, want 2 and 4", a, b)
	}
	v := p.engine.View()
	if v.Heaters[0].Node != "" || v.Heaters[1].Node != "n-0" {
		t.Errorf("nodes %q and %q, want none and n-0", v.Heaters[0].Node, v.Heaters[1].Node)
	}
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 1 { // H-1 before it had the node
		t.Errorf("%d silent nodes told, want 1", n)
	}
}

func TestAnotherNodeGoesOnWithTheHours(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(2*time.Hour, "n-0")
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: "fit-node", Node: "spare"}})
	p.run["spare"] = 7_000_000
	p.burn(2*time.Hour, "spare")
	if h := p.hours(0); math.Abs(h-4) > 0.02 {
		t.Errorf("%.3f h, want 4", h)
	}
	if n := p.count(alarm.RuntimeJump, alarm.Unacknowledged); n != 0 {
		t.Errorf("the other counter was taken for a jump")
	}
}

// The daemon's clock is set forward by a year by mistake, and back.
func TestClockSetForwardAndBack(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(2*time.Hour, "n-0")
	right := p.now
	p.now = p.now.Add(365 * 24 * time.Hour)
	p.burn(time.Hour, "n-0")
	p.now = right.Add(time.Hour)
	p.burn(2*time.Hour, "n-0")
	if now := p.engine.Now(); now != p.now {
		t.Fatalf("the engine stands at %v, want %v", now, p.now)
	}
	h := p.engine.View().Heaters[0]
	if !h.Lit || h.Silent || h.Hours.Hours < 4.9 || h.Hours.Low > 5 {
		t.Errorf("lit %v, silent %v, %+v; want lit, heard, at least the 5 h burned", h.Lit, h.Silent, h.Hours)
	}
	x := p.sample("n-0")
	x.CO = 250
	p.now++
	x.At = p.now
	p.send("n-0", x)
	if p.count(alarm.COCeiling, alarm.Unacknowledged) != 1 {
		t.Error("no ceiling alarm after the clock was set back")
	}
}

// One line out of order does not turn the clock back.
func TestOneOldLineIsASlip(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(2*time.Hour, "n-0")
	right := p.now
	p.now = benchStart
	p.step(record.Line{})
	p.now = right
	p.burn(time.Minute, "n-0")
	if now := p.engine.Now(); now != p.now {
		t.Errorf("the engine stands at %v, want %v", now, p.now)
	}
}

func TestCeilingIsToldAtOnceAndStays(t *testing.T) {
	p := newPlay(t, 2)
	p.burn(time.Hour, "n-0", "n-1")
	p.now = p.now.Add(10 * time.Second)
	x := p.sample("n-0")
	x.CO = 210
	p.send("n-0", x)
	if p.count(alarm.COCeiling, alarm.Unacknowledged) != 1 {
		t.Fatal("not told at once")
	}
	p.burn(8*time.Minute, "n-0", "n-1")
	p.send("n-0", x) // comes a second time
	p.burn(time.Hour, "n-0", "n-1")
	if n := p.count(alarm.COCeiling, alarm.Unacknowledged); n != 1 {
		t.Errorf("told %d times, want once", n)
	}
	if p.count(alarm.COCeiling, alarm.Latched) != 1 || p.count(alarm.COCeiling, alarm.Normal) != 0 {
		t.Error("it did not stay")
	}
}

// A high reading from a buffer is written down as late, and pages nobody.
func TestLateCeilingIsWrittenDown(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	x := p.sample("n-0")
	p.wait(6 * time.Hour)
	x.At, x.CO = x.At.Add(time.Hour), 400
	p.send("n-0", x)
	for _, s := range p.said {
		if s.Alarm.Kind == alarm.COCeiling {
			if !s.Alarm.Late {
				t.Error("it is not marked late")
			}
			return
		}
	}
	t.Error("nothing was said of it")
}

func TestSilentSiteIsOneAlarm(t *testing.T) {
	p := newPlay(t, 5)
	nodes := []reading.NodeID{"n-0", "n-1", "n-2", "n-3", "n-4"}
	p.burn(time.Hour, nodes...)
	p.wait(time.Hour)
	if n := p.count(alarm.SiteSilent, alarm.Unacknowledged); n != 1 {
		t.Errorf("site-silent told %d times, want once", n)
	}
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 0 {
		t.Errorf("%d nodes told beside it, want none", n)
	}
	p.burn(10*time.Minute, nodes...)
	if n := p.count(alarm.SiteSilent, alarm.Returned); n != 1 {
		t.Errorf("site-silent ended %d times, want once", n)
	}
}

// At the season's end heaters are taken out of service and put away with their
// units: nobody is called to an empty site.
func TestASiteThatWasPutAwayIsNotSilent(t *testing.T) {
	p := newPlay(t, 3)
	nodes := []reading.NodeID{"n-0", "n-1", "n-2"}
	p.burn(time.Hour, nodes...)
	for _, h := range []string{"H-0", "H-1", "H-2"} {
		p.step(record.Line{Answer: &record.Answer{Act: record.OutOfService, Heater: h, By: "jo", Role: alarm.Technician, Why: "put away"}})
	}
	p.wait(24 * time.Hour)
	for _, k := range []alarm.Kind{alarm.SiteSilent, alarm.NodeSilent} {
		if n := p.count(k, alarm.Unacknowledged); n != 0 {
			t.Errorf("%s told %d times", k, n)
		}
	}
}

// A unit that was silent before has an alarm of its own, and keeps it.
func TestSilentSiteBesideAUnitSilentBefore(t *testing.T) {
	p := newPlay(t, 3)
	p.burn(time.Hour, "n-0", "n-1", "n-2")
	p.burn(2*time.Hour, "n-1", "n-2")
	p.wait(time.Hour)
	if n := p.count(alarm.SiteSilent, alarm.Unacknowledged); n != 1 {
		t.Errorf("site-silent told %d times, want once", n)
	}
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 1 {
		t.Errorf("%d nodes told, want the one before", n)
	}
	p.burn(10*time.Minute, "n-1", "n-2")
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 1 {
		t.Errorf("%d nodes told once the site is back, want none anew", n)
	}
}

func TestColdSpaceIsAsColdAsItsColdestSensor(t *testing.T) {
	p := newPlay(t, 2)
	p.burn(time.Hour, "n-0", "n-1")
	for range 60 {
		p.now = p.now.Add(30 * time.Second)
		x, y := p.sample("n-0"), p.sample("n-1")
		x.Temp, y.Temp = 3, 9
		p.send("n-0", x)
		p.send("n-1", y)
	}
	if n := p.count(alarm.SpaceCold, alarm.Unacknowledged); n != 1 {
		t.Errorf("space-cold told %d times, want once", n)
	}
	if n := p.count(alarm.SpaceCold, alarm.Returned); n != 0 {
		t.Errorf("it ended %d times though one sensor is cold", n)
	}
}

func TestHourMeterComesBeforeTheWorkOfTheVisit(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(2*time.Hour, "n-0")
	meter := 500.0
	rules := fold.DefaultRules()
	task := rules.Plan.Tasks[0].ID
	p.step(record.Line{Entry: &record.Entry{Heater: "H-0", Task: task, MeterH: &meter}})
	p.burn(time.Hour, "n-0")
	if h := p.hours(0); math.Abs(h-501) > 0.06 {
		t.Errorf("%.3f h, want 501", h)
	}
	for _, s := range p.engine.View().Heaters[0].Standings {
		if s.Task == task && (s.HoursSince < -0.1 || s.HoursSince > 1.1) { // looked at within the hour
			t.Errorf("%s was %.2f h ago, want up to 1", task, s.HoursSince)
		}
	}
}

// A straggler among so many waiting samples that the live copy is not made
// anew for it alone is known by the next tick; a ceiling in one is told at once.
func TestAStragglerAmongManyWaitsForATick(t *testing.T) {
	p := newPlay(t, 1)
	var late, worse reading.Sample
	for i := range 400 {
		p.now = p.now.Add(time.Second)
		p.run["n-0"]++
		switch x := p.sample("n-0"); i {
		case 150:
			late = x
			late.CO = 150
		case 200:
			worse = x
			worse.CO = 250
		default:
			p.send("n-0", x)
		}
	}
	p.send("n-0", late)
	p.wait(fold.DefaultRules().Tick)
	if got := p.peak(); got != 150 {
		t.Errorf("a tick after a straggler of 150 ppm the peak is %v", got)
	}
	p.send("n-0", worse)
	if p.count(alarm.COCeiling, alarm.Unacknowledged) != 1 {
		t.Error("a straggler over the ceiling was not told at once")
	}
}

// peak is the highest CO of the first site's first space.
func (p *play) peak() float64 { return p.engine.View().Sites[0].Spaces[0].Air.Peak }
