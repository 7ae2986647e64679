package fold_test

import (
	"slices"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// reload goes on with another configuration.
func (p *play) reload(change func(f *fleet.Fleet, r *fold.Rules)) {
	body, err := p.engine.Snapshot()
	if err != nil {
		p.t.Fatal(err)
	}
	rules := fold.DefaultRules()
	change(&p.fleet, &rules)
	p.engine = fold.New(p.fleet, rules)
	if err := p.engine.Restore(body); err != nil {
		p.t.Fatal(err)
	}
}

// active reports whether an alarm of a kind is.
func (p *play) active(k alarm.Kind) bool {
	return slices.ContainsFunc(p.engine.View().Alarms, func(a alarm.Alarm) bool { return a.Kind == k && a.Active })
}

// bad is a reading of a space that calls for people: much CO, and cold.
func bad(x *reading.Sample) { x.CO, x.Temp = 250, 2 }

// What the configuration no longer asks for ends, or waits for its reset where
// it latches: nothing would ever be found of it again.
func TestWhatIsNoLongerJudgedEnds(t *testing.T) {
	good := func(x *reading.Sample) { x.CO, x.Temp = 0, 20 }
	for name, c := range map[string]struct {
		kind   alarm.Kind
		to     alarm.State
		change func(f *fleet.Fleet, r *fold.Rules)
		burns  bool // the heater goes on after
	}{
		"ceiling": {alarm.COCeiling, alarm.Latched, func(f *fleet.Fleet, _ *fold.Rules) { f.Sites[0].Limits.CeilingPPM = 0 }, true},
		"cold":    {alarm.SpaceCold, alarm.Returned, func(f *fleet.Fleet, _ *fold.Rules) { f.Sites[0].Spaces[0].ProtectAboveC = nil }, true},
		"CO where no heater is": {alarm.COCeiling, alarm.Latched, func(f *fleet.Fleet, _ *fold.Rules) {
			f.Heaters = f.Heaters[1:]
		}, false},
		"cold where no heater is": {alarm.SpaceCold, alarm.Returned, func(f *fleet.Fleet, _ *fold.Rules) {
			f.Heaters[0].Space = "space-1"
		}, false},
	} {
		t.Run(name, func(t *testing.T) {
			p := newPlay(t, 2)
			p.fleet.Heaters[1].Space = "space-1"
			p.engine = fold.New(p.fleet, fold.DefaultRules())
			p.burnAs(20*time.Minute, "n-0", bad)
			if !p.active(c.kind) {
				t.Fatalf("%s was not raised", c.kind)
			}
			p.reload(c.change)
			if c.burns {
				p.burnAs(time.Hour, "n-0", good)
			}
			p.wait(time.Hour)
			if n := p.count(c.kind, c.to); n != 1 || p.active(c.kind) {
				t.Errorf("%s came to be %s %d times, active %v", c.kind, c.to, n, p.active(c.kind))
			}
		})
	}
}

// A limit that is another one is still compared with, and a space that has a
// heater left waits for a measurement.
func TestWhatIsStillJudgedStays(t *testing.T) {
	p := newPlay(t, 2)
	p.burnAs(20*time.Minute, "n-0", bad)
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) {
		f.Sites[0].Limits.CeilingPPM, f.Sites[0].Limits.ShiftPPM = 100, 0
		f.Heaters = f.Heaters[1:]
	})
	p.wait(time.Hour)
	if !p.active(alarm.COCeiling) || !p.active(alarm.SpaceCold) {
		t.Errorf("the ceiling is active: %v, the cold: %v; nobody measured that they ended", p.active(alarm.COCeiling), p.active(alarm.SpaceCold))
	}
}

func TestWorkThatIsPlannedNoMoreIsNotDue(t *testing.T) {
	const task = "tank-flush"
	p := newPlay(t, 1)
	p.burnAs(700*time.Hour, "n-0", bare)
	of := func(a alarm.Alarm) bool { return a.Active && a.Detail == task }
	if !slices.ContainsFunc(p.engine.View().Alarms, of) {
		t.Fatal("no work on the tank is due")
	}
	p.reload(func(_ *fleet.Fleet, r *fold.Rules) {
		i := r.Plan.Index(task)
		r.Plan.Tasks = slices.Delete(slices.Clone(r.Plan.Tasks), i, i+1)
	})
	p.burnAs(2*time.Hour, "n-0", bare)
	if slices.ContainsFunc(p.engine.View().Alarms, of) {
		t.Error("a task that nobody plans is due")
	}
}

// An alarm that was about to be raised of a heater that left is not raised.
func TestWhatLeftRaisesNothing(t *testing.T) {
	p := newPlay(t, 2)
	p.burnAs(time.Hour, "n-0", full(0.9, 3))
	p.burnAs(30*time.Second, "n-0", full(0.1, 3))
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters = f.Heaters[1:] })
	p.wait(time.Hour)
	if n := p.count(alarm.FuelLow, alarm.Unacknowledged); n != 0 {
		t.Errorf("fuel-low of a heater that is not there rang %d times", n)
	}
}

// A heater is out of service when the book says so, not when somebody asked;
// and what left the configuration leaves nothing on the list.
func TestOutOfServiceIsWhatTheBookSays(t *testing.T) {
	p := newPlay(t, 2)
	p.burn(time.Hour, "n-0")
	ask := func(a record.Answer) bool {
		p.step(record.Line{Answer: &a})
		return p.engine.View().Heaters[0].OutOfWork
	}
	out := record.Answer{Act: record.OutOfService, Heater: "H-0", By: "jo", Role: alarm.Technician}
	if ask(out) {
		t.Error("without a reason it is out of service")
	}
	if out.Why = "on the bench"; !ask(out) {
		t.Fatal("it is not out of service")
	}
	i := slices.IndexFunc(p.engine.View().Alarms, func(a alarm.Alarm) bool { return a.Kind == alarm.HeaterOutOfService })
	back := record.Answer{Act: record.InService, Alarm: p.engine.View().Alarms[i].ID, By: "jo", Role: alarm.Technician, Why: "mended"}
	if ask(back) || !ask(out) {
		t.Error("put back by the alarm's name it is still out, or cannot be taken out again")
	}
	p.step(record.Line{Answer: &record.Answer{Act: record.OutOfService, Heater: "nobody's", By: "jo", Role: alarm.Technician, Why: "a slip"}})
	p.reload(func(f *fleet.Fleet, _ *fold.Rules) { f.Heaters = f.Heaters[1:] })
	p.wait(time.Hour)
	for _, a := range p.engine.View().Alarms {
		if a.Heater != "H-1" {
			t.Errorf("%s of a heater that is not there is %s", a.Kind, a.State)
		}
	}
}
