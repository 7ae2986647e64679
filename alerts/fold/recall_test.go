package fold_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

func same(*fleet.Fleet, *fold.Rules) {}

// A heater that was left out of the configuration, by a slip or for a season,
// goes on where it was; what it ran meanwhile its counter tells.
func TestAHeaterThatComesBackGoesOn(t *testing.T) {
	p := newPlay(t, 2)
	p.burn(20*time.Hour, "n-0")
	p.write(record.Entry{Heater: "H-0", Task: "tank-flush"}, 0)
	p.burn(time.Hour, "n-0")
	whole := p.fleet.Heaters
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters = whole[1:] })
	if got := p.engine.Away(); !slices.Equal(got, []string{"H-0"}) {
		t.Errorf("%v are remembered", got)
	}
	p.burn(2*time.Hour, "n-0")
	p.reload(same) // once more without it
	p.burn(time.Hour, "n-0")
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters = whole })
	p.burn(time.Hour, "n-0")
	const ran = 25 - 30.0/3600 // since the first reading
	if h := p.engine.View().Heaters[0].Hours; math.Abs(h.Hours-ran) > 0.02 || h.Low > ran+1e-9 || h.High < ran-1e-9 {
		t.Errorf("%+v, want %.3f h", h, ran)
	}
	if since, _, _ := p.standing("tank-flush"); math.Abs(since-5) > 0.1 {
		t.Errorf("%.2f h since the tank was flushed, want 5", since)
	}
	if got := p.engine.Away(); len(got) != 0 {
		t.Errorf("%v are remembered beside the configured ones", got)
	}
	p.burn(20*time.Minute, "n-0")
	if n := p.count(alarm.NodeSilent, alarm.Unacknowledged); n != 1 { // H-1, which was never heard
		t.Errorf("%d silent nodes told, want 1", n)
	}
}

// Nobody remembers for ever.
func TestAHeaterThatIsGoneIsForgotten(t *testing.T) {
	p := newPlay(t, 2)
	p.burn(time.Hour, "n-0")
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters = f.Heaters[1:] })
	p.wait(3 * 365 * 24 * time.Hour)
	p.reload(same)
	if got := p.engine.Away(); len(got) != 0 {
		t.Errorf("%v are remembered", got)
	}
}

// Work on a task counts from when it was done, though the plan lacked the task
// meanwhile, or had it in another place.
func TestATaskThatComesBackKnowsItsWork(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	p.write(record.Entry{Heater: "H-0", Task: "tank-flush"}, 0)
	p.burn(2*time.Hour, "n-0")
	p.reload(func(_ *fleet.Fleet, r *fold.Rules) {
		r.Plan.Tasks = slices.DeleteFunc(slices.Clone(r.Plan.Tasks), func(x service.Task) bool { return x.ID == "tank-flush" })
	})
	p.burn(time.Hour, "n-0")
	p.reload(same)
	p.burn(time.Hour, "n-0")
	if ran, _, _ := p.standing("tank-flush"); math.Abs(ran-4) > 0.05 {
		t.Errorf("%.2f h since the tank was flushed, want 4", ran)
	}
}

// The air stays where it is when the heater goes: it neither shows nor raises
// anything at the next place, and the heater wants its look-over there.
func TestAirStaysWhereItIs(t *testing.T) {
	p := newPlay(t, 2)
	p.burnAs(7*time.Hour, "n-0", full(0.9, 38))
	p.write(record.Entry{Heater: "H-0", Task: "look-over"}, 0)
	p.burnAs(time.Hour, "n-0", full(0.9, 38))
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters[0].Space = "space-1" })
	if s := p.engine.View().Sites[0].Spaces[1]; s.HasCO || s.Air.TWA8hPPM != 0 {
		t.Errorf("the next place begins with %v, %.1f ppm over 8 h", s.HasCO, s.Air.TWA8hPPM)
	}
	p.said = nil
	p.burnAs(time.Hour, "n-0", full(0.9, 1))
	s := p.engine.View().Sites[0].Spaces[1]
	if !s.COHeard || s.COPPM != 1 || s.Air.TWA8hPPM > 1 {
		t.Errorf("heard %v, %.1f ppm, %.1f over 8 h, want 1 ppm for an hour", s.COHeard, s.COPPM, s.Air.TWA8hPPM)
	}
	for _, x := range p.said {
		if x.Alarm.Kind.ConcernsPeople() && x.Alarm.Space == "space-1" {
			t.Errorf("%s of the next place came to be %s", x.Alarm.Kind, x.To)
		}
	}
	if h := p.hours(0); math.Abs(h-9) > 0.05 {
		t.Errorf("%.2f h, want 9", h)
	}
	i := slices.IndexFunc(p.engine.View().Heaters[0].Standings, func(s service.Standing) bool { return s.Task == "look-over" })
	if s := p.engine.View().Heaters[0].Standings[i]; s.State != service.Due && s.State != service.Overdue {
		t.Errorf("the look-over at the next place is %v", s.State)
	}
}

// What the heater had run before is corrected: the work keeps its distance,
// and a meter that was read since stays as it was read.
func TestCorrectedHoursAtStart(t *testing.T) {
	for _, more := range []float64{300, -40} {
		p := newPlay(t, 1)
		p.fleet.Heaters[0].HoursAtStart = 50
		p.engine = fold.New(p.fleet, fold.DefaultRules())
		p.burn(time.Hour, "n-0")
		p.write(record.Entry{Heater: "H-0", Task: "tank-flush"}, 0)
		p.burn(2*time.Hour, "n-0")
		was := p.hours(0)
		p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters[0].HoursAtStart += more })
		p.burn(time.Hour, "n-0")
		if ran, _, _ := p.standing("tank-flush"); math.Abs(ran-3) > 0.05 {
			t.Errorf("%+.0f h: %.2f h since the tank was flushed, want 3", more, ran)
		}
		if h := p.hours(0); math.Abs(h-was-more-1) > 0.05 {
			t.Errorf("%+.0f h: %.2f h, want %.2f", more, h, was+more+1)
		}
	}
}

func TestCorrectedHoursAtStartLeaveTheMeter(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	read := 1200.0
	p.write(record.Entry{Heater: "H-0", Task: "meter", MeterH: &read}, 0)
	p.burn(2*time.Hour, "n-0")
	before := p.engine.View().Heaters[0]
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters[0].HoursAtStart += 300 })
	after := p.engine.View().Heaters[0]
	if math.Abs(after.Hours.Hours-before.Hours.Hours) > 1e-6 || after.Hours.High-after.Hours.Low-before.Hours.High+before.Hours.Low > 1e-6 {
		t.Errorf("%+v became %+v", before.Hours, after.Hours)
	}
	if math.Abs(after.RunHours-before.RunHours) > 1e-6 {
		t.Errorf("%.2f h run became %.2f", before.RunHours, after.RunHours)
	}
}

// The configuration moves a unit to another heater and back: what it counted
// there is the other's, and what it measured stands for nothing here.
func TestAUnitThatWasElsewhere(t *testing.T) {
	p := newPlay(t, 2)
	p.fleet.Heaters[1].Space = "space-1"
	p.engine = fold.New(p.fleet, fold.DefaultRules())
	p.burnAs(4*time.Hour, "n-0", full(0.9, 8))
	units := func(a, b reading.NodeID) func(f *fleet.Fleet, _ *fold.Rules) {
		return func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters[0].Node, f.Heaters[1].Node = a, b }
	}
	p.reload(units("n-2", "n-0"))
	p.burnAs(3*time.Hour, "n-0", full(0.9, 8))
	p.reload(units("n-0", "n-1"))
	p.burnAs(time.Hour, "n-0", full(0.9, 8))
	v := p.engine.View()
	if h := v.Heaters[0].Hours; math.Abs(h.Low-5) > 0.1 || h.High < 8-0.02 {
		t.Errorf("%+v, want at least 5 h, and at most what it may have burned without a unit", h)
	}
	if h := v.Heaters[1].Hours; math.Abs(h.Hours-3) > 0.1 {
		t.Errorf("%+v, want the 3 h that the unit saw", h)
	}
	if n := p.count(alarm.RuntimeJump, alarm.Unacknowledged); n != 0 {
		t.Error("the unit's counter was taken for a jump")
	}
	p.reload(units("bare", "n-1"))
	p.burnAs(20*time.Minute, "bare", bare)
	if s := p.engine.View().Sites[0].Spaces[0]; s.HasCO {
		t.Errorf("%.0f ppm of a unit that is gone", s.COPPM)
	}
}

// The heater has a new hour meter: the hours go on from what it reads, with
// bounds that hold, and work keeps its distance. A slip that is put right
// leaves no trace.
func TestAMeterThatReadsLess(t *testing.T) {
	for name, readings := range map[string][]float64{"a new meter": {0.5}, "a slip": {9000, 420.5}} {
		t.Run(name, func(t *testing.T) {
			p := newPlay(t, 1)
			p.fleet.Heaters[0].HoursAtStart = 412.5
			p.engine = fold.New(p.fleet, fold.DefaultRules())
			p.burn(5*time.Hour, "n-0")
			p.write(record.Entry{Task: "tank-flush"}, 0)
			p.burn(3*time.Hour, "n-0")
			for i := range readings {
				p.write(record.Entry{Task: "meter", MeterH: &readings[i]}, 0)
				p.burn(time.Minute, "n-0")
			}
			at := readings[len(readings)-1]
			for range 2 {
				p.burn(10*time.Hour, "n-0")
				at += 10
				if h := p.engine.View().Heaters[0].Hours; math.Abs(h.Hours-at) > 0.1 || h.Low > at+0.1 || h.High < at-0.1 || h.High-h.Low > 2 {
					t.Errorf("%+v, want %.1f", h, at)
				}
			}
			if since, _, _ := p.standing("tank-flush"); math.Abs(since-23) > 0.2 {
				t.Errorf("%.2f h since the tank was flushed, want 23", since)
			}
		})
	}
}

// Work whose hours ran out today fell due today, not the day before.
func TestHoursThatRanOutToday(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(30*time.Hour, "n-0") // from 06:00 on
	p.write(record.Entry{Task: "service-500h"}, 0)
	p.idle(18*time.Hour, "n-0")
	p.burn(498*time.Hour, "n-0")
	p.idle(8*time.Hour, "n-0") // into the morning
	day := service.DateOf(p.now, p.fleet.Sites[0].Zone)
	p.burn(4*time.Hour, "n-0")
	for _, s := range p.engine.View().Heaters[0].Standings {
		if s.Task == "service-500h" && (s.DueOn == nil || *s.DueOn != day || s.State != service.Due && s.State != service.Overdue) {
			t.Errorf("%v since %v, want %v", s.State, *s.DueOn, day)
		}
	}
}
