package fold_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// withdraw withdraws the entry of a task that was written down then.
func (p *play) withdraw(task string, written reading.Instant) *fold.Effects {
	e := p.engine.Step(record.Line{At: p.now, Withdraw: &record.Withdrawal{Heater: "H-0", Task: task, At: written, By: "Kim", Why: "the wrong heater"}})
	p.said = append(p.said, e.Transitions...)
	return e
}

// known is all that entries change: the plan, the tank, and what was found.
func (p *play) known() string {
	p.restart()             // standings are kept as somebody asked within the hour
	fold.Renew(p.engine, 0) // and the live copy as late entries found it, as a straggler would
	settled, live, found := fold.Tank(p.engine, 0)
	h := p.engine.View().Heaters[0]
	plan, err := json.Marshal(h.Standings)
	if err != nil {
		p.t.Fatal(err)
	}
	return fmt.Sprintf("%+v\n%+v\n%v\n%v %v\n%+v\n%s", settled, live, found, h.HasLevel, h.Level, fold.Book(p.engine, 0), plan)
}

// A deed of the property: what happens, and how it is done.
type deed struct {
	entry record.Entry
	ago   time.Duration
	burn  time.Duration
	idle  time.Duration
	again bool // a restart
}

func (p *play) do(d deed) {
	switch {
	case d.entry.Task != "":
		p.now = p.now.Add(time.Second) // two entries are not of one moment
		p.write(d.entry, d.ago)
	case d.again:
		p.restart()
	default:
		p.burn(d.burn, "n-0")
		p.idle(d.idle, "n-0")
	}
}

func anyEntry() *rapid.Generator[deed] {
	return rapid.Custom(func(t *rapid.T) deed {
		d := deed{entry: record.Entry{Task: rapid.SampledFrom([]string{"refuel", "refuel", task, "photocell", service.LookOverTask}).Draw(t, "task")}}
		if rapid.Bool().Draw(t, "late") {
			d.ago = time.Duration(rapid.IntRange(1, 300).Draw(t, "ago")) * time.Minute
		}
		switch d.entry.Task {
		case "refuel":
			if rapid.Bool().Draw(t, "told") {
				litres := rapid.Float64Range(1, 30).Draw(t, "litres")
				d.entry.Litres = &litres
			}
		case service.LookOverTask:
			d.entry.Found = rapid.SampledFrom([]string{"", "leaks"}).Draw(t, "found")
		default:
			d.entry.Found = rapid.SampledFrom([]string{"", "torn filter"}).Draw(t, "found")
		}
		if rapid.Bool().Draw(t, "more") {
			d.entry.Tasks = []string{"intake-filter"}
		}
		return d
	})
}

func anyDeed() *rapid.Generator[deed] {
	return rapid.Custom(func(t *rapid.T) deed {
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0, 1:
			return anyEntry().Draw(t, "entry")
		case 2:
			meter := rapid.Float64Range(0, 1000).Draw(t, "meter")
			return deed{entry: record.Entry{Task: "meter", MeterH: &meter}}
		case 3:
			return deed{again: true}
		}
		return deed{burn: time.Duration(rapid.IntRange(0, 300).Draw(t, "burn")) * time.Minute, idle: time.Duration(rapid.IntRange(1, 90).Draw(t, "idle")) * time.Minute}
	})
}

// An entry followed by its withdrawal leaves the plan and the tank as if
// neither had been written, whatever comes before, between and after.
func TestAWithdrawnEntryLeavesNothing(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		deeds := rapid.SliceOfN(anyDeed(), 1, 10).Draw(r, "deeds")
		wrong := anyEntry().Draw(r, "wrong")
		at := rapid.IntRange(0, len(deeds)-1).Draw(r, "written")
		back := rapid.IntRange(at, len(deeds)-1).Draw(r, "withdrawn")
		a, b := newPlay(t, 1), newPlay(t, 1)
		var written reading.Instant
		for i, d := range deeds {
			if i == at {
				a.do(wrong)
				b.now, written = a.now, a.now
				b.step(record.Line{})
			}
			a.do(d)
			if !d.again {
				b.do(d)
			}
			if i == back {
				if e := a.withdraw(wrong.entry.Task, written); len(e.Errors) > 0 || len(e.Withdrawn) != 1 {
					r.Fatalf("%v, withdrawn %v", e.Errors, e.Withdrawn)
				}
				b.step(record.Line{})
			}
		}
		for range 2 { // as it is live, and settled
			if got, want := a.known(), b.known(); got != want {
				r.Fatalf("got %s\nwant %s", got, want)
			}
			a.idle(2*time.Hour, "n-0")
			b.idle(2*time.Hour, "n-0")
		}
		a.engine.Finish()
		b.engine.Finish()
		if got, want := a.known(), b.known(); got != want {
			r.Fatalf("at the end got %s\nwant %s", got, want)
		}
	})
}

// What can be withdrawn is, once; all else is refused with what to do instead.
func TestWhatCannotBeWithdrawnIsRefused(t *testing.T) {
	p := newPlay(t, 1)
	p.burn(time.Hour, "n-0")
	meter, written := 20.0, p.now
	p.write(record.Entry{Task: "meter", MeterH: &meter}, 0)
	p.write(record.Entry{Task: "fit-node", Node: "n-0"}, 0)
	p.write(record.Entry{Task: task, MeterH: &meter}, 0)
	refused := func(what string, e *fold.Effects, why string) {
		t.Helper()
		if len(e.Errors) != 1 || !strings.Contains(e.Errors[0].Error(), why) || len(e.Withdrawn) > 0 {
			t.Errorf("%s: %v, want one refusal with %q", what, e.Errors, why)
		}
	}
	refused("a meter", p.withdraw("meter", written), "write down what the meter reads")
	refused("a fitting", p.withdraw("fit-node", written), "write down the node that is on the heater")
	refused("a planned stop", p.withdraw(record.StopTask, written), "end it on the heater")
	refused("another time", p.withdraw(task, written+1), "has no entry")
	refused("another heater", p.engine.Step(record.Line{At: p.now, Withdraw: &record.Withdrawal{Heater: "H-9", Task: task, At: written, Why: "x"}}), `no heater "H-9"`)
	if e := p.withdraw(task, written); len(e.Errors) > 0 || !reflect.DeepEqual(e.Withdrawn[0].At, written) {
		t.Errorf("%v", e.Errors)
	}
	if h := p.hours(0); h != 20 {
		t.Errorf("the meter of the same visit reads %v h, want 20", h)
	}
	p.restart()
	refused("once more", p.withdraw(task, written), "was withdrawn before")

	p.burn(time.Minute, "n-0")
	old := p.now
	p.write(record.Entry{Task: task}, 0)
	p.wait(record.WithdrawnWithin + time.Hour)
	refused("after eight days", p.withdraw(task, old), "up to 7 days")
	p.burn(2*time.Hour, "n-0")
	if n := fold.Notes(p.engine, 0); n != 0 {
		t.Errorf("%d entries are still remembered", n)
	}
}

// Work that was overdue before it was ticked by mistake is overdue again.
func TestTheAlarmOfWithdrawnWorkReturns(t *testing.T) {
	p := newPlay(t, 1)
	for range 30 {
		p.burn(24*time.Hour, "n-0")
	}
	key := alarm.ServiceOverdue
	before := p.count(key, alarm.Unacknowledged)
	if before == 0 {
		t.Fatal("nothing is overdue")
	}
	tasks := []string{}
	for _, s := range p.engine.View().Heaters[0].Standings {
		tasks = append(tasks, s.Task)
	}
	written := p.now
	p.write(record.Entry{Task: tasks[0], Tasks: tasks[1:]}, 0)
	p.burn(time.Hour, "n-0")
	p.restart()
	for _, s := range p.engine.View().Heaters[0].Standings {
		if s.State == service.Overdue {
			t.Fatalf("%s is overdue after it was done", s.Task)
		}
	}
	p.withdraw(tasks[0], written)
	p.burn(2*time.Hour, "n-0")
	if again := p.count(key, alarm.Unacknowledged) - before; again < before {
		t.Errorf("%d told again, want %d", again, before)
	}
}

// More entries than there is room for: the oldest stand, and what a later one
// restores is still right.
func TestTheOldestOfManyEntriesStand(t *testing.T) {
	p := newPlay(t, 1)
	var all []reading.Instant
	for range 80 {
		p.burn(time.Minute, "n-0")
		all = append(all, p.now)
		p.write(record.Entry{Task: task}, 0)
	}
	p.burn(2*time.Hour, "n-0")
	if e := p.withdraw(task, all[3]); len(e.Errors) != 1 {
		t.Errorf("the fourth of 80 was withdrawn")
	}
	for i := 79; i >= 16; i-- {
		if e := p.withdraw(task, all[i]); len(e.Errors) > 0 {
			t.Fatal(i, e.Errors)
		}
	}
	if h, _, _ := p.standing(task); h < 2+63./60 || h > 2.1+64./60 {
		t.Errorf("%.3f h since, want as since the 16th", h)
	}
}

// What stood before a wrong entry goes by the hour meter that was fitted since
// then.
func TestWithdrawingAfterANewHourMeter(t *testing.T) {
	a, b := newPlay(t, 1), newPlay(t, 1)
	high, low := 900.0, 1.0
	for _, p := range []*play{a, b} {
		p.do(deed{entry: record.Entry{Task: "meter", MeterH: &high}})
		p.do(deed{burn: time.Hour, idle: time.Hour})
		p.do(deed{entry: record.Entry{Task: task}})
		p.do(deed{burn: time.Hour, idle: time.Hour})
		p.do(deed{entry: record.Entry{Task: "meter", MeterH: &low}})
		p.do(deed{burn: time.Hour, idle: time.Hour})
	}
	a.do(deed{entry: record.Entry{Task: task}})
	written := a.now
	b.now = a.now
	for _, p := range []*play{a, b} {
		p.do(deed{burn: time.Hour, idle: time.Hour})
	}
	if e := a.withdraw(task, written); len(e.Errors) > 0 {
		t.Fatal(e.Errors)
	}
	b.step(record.Line{})
	if got, want := a.known(), b.known(); got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
}
