package fold_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// idle lets nodes report every 30 s for a while, none burning.
func (p *play) idle(d time.Duration, nodes ...reading.NodeID) {
	for range int(d / (30 * time.Second)) {
		p.now = p.now.Add(30 * time.Second)
		for _, n := range nodes {
			x := p.sample(n)
			x.On, x.Temp = 0, 6
			p.send(n, x)
		}
	}
}

// write writes an entry down, done so long ago.
func (p *play) write(e record.Entry, ago time.Duration) []error {
	e.Heater = "H-0"
	if ago != 0 {
		e.Done = p.now.Add(-ago)
	}
	return p.engine.Step(record.Line{At: p.now, Entry: &e}).Errors
}

func (p *play) standing(task string) (hours, high float64, last service.Date) {
	for _, s := range p.engine.View().Heaters[0].Standings {
		if s.Task == task {
			return s.HoursSince, s.HoursHigh, s.Last
		}
	}
	p.t.Fatalf("no task %q", task)
	return
}

const task = "fuel-filter"

// Work of the evening before, written down the next day, counts from the
// evening: at once, when all has settled, and after a restart.
func TestLateWorkCountsFromWhenItWasDone(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(20*time.Hour, "n-0")
	p.idle(5*time.Hour, "n-0")
	done := p.now
	p.burn(90*time.Minute, "n-0")
	p.idle(9*time.Hour, "n-0")
	p.burn(45*time.Minute, "n-0")
	if errs := p.write(record.Entry{Task: task}, p.now.Sub(done)); len(errs) > 0 {
		t.Fatal(errs)
	}
	check := func(when string, want float64) {
		t.Helper()
		h, high, last := p.standing(task)
		if last != service.DateOf(done, nil) || math.Abs(h-want) > 0.03 || high < want {
			t.Errorf("%s: %.3f h since %v, at most %.3f; want %.3f h since %v", when, h, last, high, want, done)
		}
	}
	check("at once", 2.25)
	p.burn(time.Hour, "n-0")
	check("settled", 3.25)
	p.restart()
	check("after a restart", 3.25)
}

// An entry that comes after a later one of the same task changes nothing.
func TestTheLaterWorkStands(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(6*time.Hour, "n-0")
	p.write(record.Entry{Task: task}, 0)
	p.burn(time.Hour, "n-0")
	p.write(record.Entry{Task: task}, 4*time.Hour)
	p.burn(time.Hour, "n-0")
	if h, _, _ := p.standing(task); math.Abs(h-2) > 0.03 {
		t.Errorf("%.3f h since, want 2", h)
	}
}

func TestLateRefuelCountsFromWhenItWasDone(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(10*time.Hour, "n-0")
	p.write(record.Entry{Task: "refuel"}, 4*time.Hour)
	p.burn(2*time.Hour, "n-0")
	want := 1 - 6*4.4/52
	if h := p.engine.View().Heaters[0]; !h.HasLevel || math.Abs(h.Level-want) > 0.01 {
		t.Errorf("level %.3f, want %.3f", h.Level, want)
	}
	litres := 13.0 // forgotten, an hour before the other
	p.write(record.Entry{Task: "refuel", Litres: &litres}, 7*time.Hour)
	p.burn(time.Hour, "n-0")
	if h := p.engine.View().Heaters[0]; math.Abs(h.Level-(want-4.4/52)) > 0.01 {
		t.Errorf("a filling before one to the brim: level %.3f, want %.3f", h.Level, want-4.4/52)
	}
}

// The hour meter read in the morning and written down at noon.
func TestLateMeterGoesOnFromWhenItWasRead(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(3*time.Hour, "n-0")
	p.idle(3*time.Hour, "n-0")
	p.burn(2*time.Hour, "n-0")
	read := 500.0
	p.write(record.Entry{Task: "meter", MeterH: &read}, 5*time.Hour)
	p.burn(time.Hour, "n-0")
	h := p.engine.View().Heaters[0].Hours
	if math.Abs(h.Hours-503) > 0.05 || h.Low > 503 || h.High < 503 || h.High-h.Low > 0.5 {
		t.Errorf("%+v, want about 503 h", h)
	}
	older := 400.0
	p.write(record.Entry{Task: "meter", MeterH: &older}, 7*time.Hour)
	p.burn(time.Hour, "n-0")
	if h := p.hours(0); math.Abs(h-504) > 0.05 {
		t.Errorf("an older reading set the hours to %.2f", h)
	}
}

// Work done before a heater went out is no visit to it since.
func TestLateWorkLeavesALaterStopToldUntilSeen(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(3*time.Hour, "n-0")
	p.idle(30*time.Minute, "n-0")
	if n := p.count(alarm.ShutdownUnexplained, alarm.Unacknowledged); n != 1 {
		t.Fatalf("%d stops told, want 1", n)
	}
	p.write(record.Entry{Task: task}, 2*time.Hour)
	p.idle(10*time.Minute, "n-0")
	if n := p.count(alarm.ShutdownUnexplained, alarm.Returned); n != 0 {
		t.Error("work of before the stop ended its alarm")
	}
	p.write(record.Entry{Task: task}, 5*time.Minute)
	p.idle(10*time.Minute, "n-0")
	if n := p.count(alarm.ShutdownUnexplained, alarm.Returned); n != 1 {
		t.Errorf("a visit after the stop ended its alarm %d times, want once", n)
	}
}

func TestATimeThatCannotBeIsRefused(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(3*time.Hour, "n-0")
	for what, ago := range map[string]time.Duration{"in the future": -time.Minute, "too old": record.WrittenWithin + time.Minute} {
		if errs := p.write(record.Entry{Task: task}, ago); len(errs) != 1 {
			t.Errorf("%s: %v, want one refusal", what, errs)
		}
		if _, _, last := p.standing(task); last != service.DateOf(p.now, nil) {
			t.Errorf("%s: done %v, want when it was written, %v", what, last, p.now)
		}
	}
	if errs := p.write(record.Entry{Task: "fit-node", Node: "n-0"}, time.Hour); len(errs) != 1 {
		t.Errorf("a unit fitted an hour ago: %v, want one refusal", errs)
	}
}

// The trail's bounds hold wherever the burner ran and whenever nobody saw.
func TestTrailBounds(t *testing.T) {
	for seed := range uint64(200) {
		trailHolds(t, rand.New(rand.NewPCG(seed, 7)))
	}
}

func trailHolds(t *testing.T, r *rand.Rand) {
	t.Helper()
	const minutes = 9 * 24 * 60
	ran := make([]float64, minutes+1) // h, in all, at each minute
	var trail fold.Trail
	begin, last, lit, seen := benchStart.Add(17*time.Minute), 0, false, true
	at := func(minute int) reading.Instant { return begin.Add(time.Duration(minute) * time.Minute) }
	for m := 1; m <= minutes; m++ {
		if r.IntN(40) == 0 {
			lit = !lit
		}
		if r.IntN(300) == 0 {
			seen = !seen
		}
		ran[m] = ran[m-1]
		if lit {
			ran[m] += 1.0 / 60
		}
		if seen {
			trail.Follow(at(last), at(m), ran[last], ran[m])
			last = m
		}
	}
	for range 50 {
		m := last - r.IntN(min(last, 7*24*60))
		low, est, high := trail.Since(at(m), begin, at(last), ran[last])
		if want := ran[last] - ran[m]; low > want+1e-9 || high < want-1e-9 || est < low || est > high+1e-9 {
			t.Fatalf("%d min ago: %.3f to %.3f h, most likely %.3f; it was %.3f", last-m, low, high, est, want)
		}
	}
}

// A node that sends at last what it kept tells that the ceiling was reached
// long before anybody could be told: the alarm says since when.
func TestACeilingIsSinceItWasReached(t *testing.T) {
	for name, c := range map[string]struct {
		below int // reading that was not at the limit
		since int // reading that the alarm counts from
	}{"all above": {-1, 0}, "once below": {60, 61}} {
		t.Run(name, func(t *testing.T) {
			p := newPlay(t, 1)
			p.burn(time.Hour, "n-0")
			kept := p.keep(time.Hour, "n-0", 260)
			if c.below >= 0 {
				kept[c.below].CO = 3
			}
			p.empty("n-0", kept)
			for _, a := range p.engine.View().Alarms {
				if a.Kind == alarm.COCeiling && a.Active {
					if want := kept[c.since].At; a.Since != want || a.Late {
						t.Errorf("since %s, late %v, want %s", a.Since, a.Late, want)
					}
					return
				}
			}
			t.Error("no ceiling")
		})
	}
}

// What a person wrote about a heater that is not heard shows at once: hours,
// work and fuel do not wait for its unit to speak again.
func TestWhatIsWrittenOfASilentHeaterCountsAtOnce(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(3*time.Hour, "n-0")
	p.wait(time.Hour)
	read := 480.0
	p.write(record.Entry{Task: task, MeterH: &read}, 0)
	p.write(record.Entry{Task: "refuel"}, 0)
	h := p.engine.View().Heaters[0]
	if math.Abs(h.Hours.Hours-read) > 0.05 || h.Level != 1 {
		t.Errorf("%.2f h and fuel at %.2f, want %.0f h as read and a full tank", h.Hours.Hours, h.Level, read)
	}
	if since, _, _ := p.standing(task); since > 0.05 {
		t.Errorf("%.2f h since the work that was just done", since)
	}
	if left := p.hoursLeft("service-500h"); math.Abs(left-20) > 0.1 {
		t.Errorf("%.2f h left to the 500-hour service, want 20: the meter was read at 480 h", left)
	}
	p.burn(time.Hour, "n-0")
	if got := p.hours(0); math.Abs(got-read-1) > 0.05 {
		t.Errorf("%.2f h when it is heard again, want %.0f and the hour since", got, read)
	}
}

func (p *play) hoursLeft(task string) float64 {
	for _, s := range p.engine.View().Heaters[0].Standings {
		if s.Task == task && s.HoursLeft != nil {
			return *s.HoursLeft
		}
	}
	p.t.Fatalf("no hours left for task %q", task)
	return 0
}

// An entry and a reading of the same instant come out alike, whichever came
// first, at once and once all is settled.
func TestAnEntryOfTheInstantOfAReading(t *testing.T) {
	for _, task := range []string{"read-meter", "refuel", "fuel-filter"} {
		var got [2][3]float64
		for i := range got {
			p := newPlay(t, 1)
			p.burn(time.Hour, "n-0")
			p.now = p.now.Add(time.Hour) // a pause, of which the counter tells
			p.run["n-0"] += 1800
			meter, litres := 700.0, 30.0
			en := record.Entry{Heater: "H-0", Task: task, By: "mara", MeterH: &meter}
			if task == "refuel" {
				en.Litres, en.MeterH = &litres, nil
			}
			tell := []func(){
				func() { p.step(record.Line{Entry: &en}) },
				func() { p.send("n-0", p.sample("n-0")) },
			}
			tell[i]()
			tell[1-i]()
			got[i][0] = p.hours(0)
			p.burn(5*time.Minute, "n-0")
			got[i][1] = p.hours(0)
			p.burn(time.Hour, "n-0")
			fold.Renew(p.engine, 0)
			got[i][2] = p.hours(0)
			_, f, _ := fold.Tank(p.engine, 0)
			got[i][0] += f.Hours
		}
		if got[0] != got[1] {
			t.Errorf("%s: entry first %v, reading first %v", task, got[0], got[1])
		}
	}
}
