package service

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"heaterd/ingest/reading"
	"pgregory.net/rapid"
)

func instant(t testing.TB, s string) reading.Instant {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return reading.InstantOf(at)
}

func find(t testing.TB, all []Standing, id string) Standing {
	t.Helper()
	for _, s := range all {
		if s.Task == id {
			return s
		}
	}
	t.Fatalf("no task %q", id)
	return Standing{}
}

// A heater first seen at 412.5 h on 12 January 2026, 06:00 in Dublin.
func seen412(t testing.TB) (Book, Facts) {
	b := Book{}
	b.Begin(instant(t, "2026-01-12T06:00:00Z"), 412.5)
	return b, Facts{Now: instant(t, "2026-01-12T06:00:00Z"), Zone: zone(t, "Europe/Dublin"), Hours: known(412.5), Dusty: true}
}

func TestStatusByHours(t *testing.T) {
	for _, c := range []struct {
		name        string
		task        string
		hours       Hours
		since, left float64
		want        State
	}{
		{"unknown history counts from the meter's last 500", "service-500h", known(412.5), 412.5, 87.5, OK},
		{"within a tenth", "service-500h", known(450), 450, 50, DueSoon},
		{"just outside a tenth", "service-500h", known(449.9), 449.9, 50.1, OK},
		{"to the hour", "service-500h", known(500), 500, 0, Due},
		{"a tenth over", "service-500h", known(550), 550, -50, Due},
		{"beyond a tenth over", "service-500h", known(550.1), 550.1, -50.1, Overdue},
		{"dust counts fifties", "intake-filter", known(412.5), 12.5, 37.5, OK},
		{"the high bound decides", "service-500h", Hours{490, 488, 503}, 490, 10, Due},
	} {
		b, f := seen412(t)
		f.Hours = c.hours
		s := find(t, Status(Default(), f, &b, &Use{}), c.task)
		if s.State != c.want || math.Abs(s.HoursSince-c.since) > 1e-9 || math.Abs(*s.HoursLeft-c.left) > 1e-9 {
			t.Errorf("%s: %s, since %v, left %v; want %s, %v, %v", c.name, s.State, s.HoursSince, *s.HoursLeft, c.want, c.since, c.left)
		}
	}
}

// Hours that nobody saw before the work was done do not count after it.
func TestStatusForgetsDoubtOfBefore(t *testing.T) {
	b, f := seen412(t)
	b.Done(Default(), f.Now, Hours{460, 430, 490}, "intake-filter")
	f.Hours = Hours{470, 440, 502}
	s := find(t, Status(Default(), f, &b, &Use{}), "intake-filter")
	if s.HoursSince != 10 || s.HoursHigh != 12 || s.State != OK {
		t.Errorf("since %v, at most %v, %s; want 10, 12, ok", s.HoursSince, s.HoursHigh, s.State)
	}
}

func TestStatusByCalendar(t *testing.T) {
	for _, c := range []struct {
		name, task, now string
		want            State
	}{
		{"a year from the first sight", "fuel-filter", "2026-12-01T12:00:00Z", OK},
		{"a week ahead", "fuel-filter", "2027-01-05T00:00:00Z", DueSoon},
		{"eight days ahead", "fuel-filter", "2027-01-04T23:59:59Z", OK},
		{"on the day", "fuel-filter", "2027-01-12T00:00:00Z", Due},
		{"the evening before", "fuel-filter", "2027-01-11T23:59:59Z", DueSoon},
		{"a week late", "fuel-filter", "2027-01-19T23:59:59Z", Due},
		{"eight days late", "fuel-filter", "2027-01-20T00:00:00Z", Overdue},
		{"the season's last day by the clock of summer", "put-away", "2026-04-29T23:00:00Z", Due},
		{"an hour before it", "put-away", "2026-04-29T22:59:59Z", DueSoon},
		{"never by itself", "nozzle", "2030-01-01T00:00:00Z", OK},
	} {
		b, f := seen412(t)
		f.Now = instant(t, c.now)
		if s := find(t, Status(Default(), f, &b, &Use{}), c.task); s.State != c.want {
			t.Errorf("%s: %s is %s, want %s (due %v)", c.name, c.task, s.State, c.want, s.DueOn)
		}
	}
}

func TestStatusLookOverAtDeployment(t *testing.T) {
	p := Default()
	b, f := seen412(t)
	state := func() State { return find(t, Status(p, f, &b, &Use{}), "look-over").State }
	if got := state(); got != OK {
		t.Errorf("at first sight: %s", got)
	}
	f.Now = f.Now.Add(24 * time.Hour)
	b.Deploy(f.Now)
	if got := state(); got != Due {
		t.Errorf("just deployed: %s", got)
	}
	f.Now = f.Now.Add(8 * 24 * time.Hour)
	if got := state(); got != Overdue {
		t.Errorf("eight days without: %s", got)
	}
	b.Done(p, f.Now, f.Hours, "look-over")
	if got := state(); got != OK {
		t.Errorf("looked over: %s", got)
	}
}

func TestStatusHeavyUseFlushesTheTankTwiceAMonth(t *testing.T) {
	b, f := seen412(t)
	var u Use
	for d := range 20 {
		u.Add(DateOf(f.Now, f.Zone)+Date(d), 9.9)
	}
	f.Now = f.Now.Add(19 * 24 * time.Hour)
	tank := func() Standing { return find(t, Status(Default(), f, &b, &u), "tank-flush") }
	if s := tank(); s.Trigger.Kind != Season || s.State != OK {
		t.Errorf("198 h in 30 days: %s by %s", s.State, s.Trigger.Kind)
	}
	u.Add(DateOf(f.Now, f.Zone), 2.5)
	if s := tank(); s.Trigger.Kind != HeavyMonth || s.State != Overdue || s.DueOn.String() != "2026-01-27" {
		t.Errorf("over 200 h in 30 days: %s by %s, due %v", s.State, s.Trigger.Kind, s.DueOn)
	}
}

func TestStatusSensorDate(t *testing.T) {
	b, f := seen412(t)
	f.SensorDue = day(t, "2026-01-15")
	s := find(t, Status(Default(), f, &b, &Use{}), "co-sensor-check")
	if s.State != DueSoon || *s.DueOn != f.SensorDue || s.Trigger.Kind != SensorDate {
		t.Errorf("configured date: %s on %v", s.State, s.DueOn)
	}
	f.SensorDue = day(t, "2026-03-15")
	if s = find(t, Status(Default(), f, &b, &Use{}), "co-sensor-check"); s.State != OK || s.Trigger.Kind != SensorDate {
		t.Errorf("of two triggers that are both ok the earlier wins: got %s (%s)", s.Trigger.Kind, s.State)
	}
	b.Done(Default(), f.Now, f.Hours, "co-sensor-check")
	if s = find(t, Status(Default(), f, &b, &Use{}), "co-sensor-check"); s.State != OK || s.DueOn.String() != "2026-07-11" {
		t.Errorf("verified: %s on %v", s.State, s.DueOn)
	}
}

func TestStatusDueDateInThePast(t *testing.T) {
	b, f := seen412(t)
	b.Done(Default(), f.Now, known(412.5), "intake-filter")
	var u Use
	for d := range 10 {
		u.Add(DateOf(f.Now, f.Zone)+Date(d), 8)
	}
	f.Now, f.Hours = f.Now.Add(9*24*time.Hour), known(412.5+80)
	s := find(t, Status(Default(), f, &b, &u), "intake-filter")
	if s.DueOn.String() != "2026-01-18" || s.State != Overdue {
		t.Errorf("50 h at 8 h a day from 12 January ran out on %v (%s), want 2026-01-18", s.DueOn, s.State)
	}
}

func TestDoneReportsUnknownTasks(t *testing.T) {
	var b Book
	if got := b.Done(Default(), 1, known(1), "refuel", "look-over"); len(got) != 1 || got[0] != "refuel" {
		t.Errorf("unknown: %v", got)
	}
}

func TestReorderFollowsTheIDs(t *testing.T) {
	from := Default()
	to := Plan{Name: "turned round"}
	for i := len(from.Tasks) - 1; i > 0; i-- {
		to.Tasks = append(to.Tasks, from.Tasks[i])
	}
	var b Book
	b.Done(from, 77, known(5), "put-away", "look-over")
	n := b.Reorder(from, to)
	if n.Last[to.Index("put-away")].At != 77 || n.Last[to.Index("nozzle")].At != 0 {
		t.Errorf("marks did not follow their tasks: %+v", n.Last)
	}
}

func TestWhySaysWhatCounts(t *testing.T) {
	b, f := seen412(t)
	f.Hours = Hours{490, 488, 503}
	why := find(t, Status(Default(), f, &b, &Use{}), "service-500h").Why()
	for _, part := range []string{"every 500 burner hours", "never logged", "13.0 h more"} {
		if !strings.Contains(why, part) {
			t.Errorf("%q does not say %q", why, part)
		}
	}
	if why := find(t, Status(Default(), f, &b, &Use{}), "photocell").Why(); strings.Contains(why, "h more") {
		t.Errorf("hours do not count where a date does: %q", why)
	}
	b.Done(Default(), f.Now, known(480), "photocell")
	if why := find(t, Status(Default(), f, &b, &Use{}), "photocell").Why(); !strings.Contains(why, "last logged on "+DateOf(f.Now, f.Zone).Words()+", 10.0 burner hours ago") {
		t.Errorf("hours of the burner read as hours of the clock: %q", why)
	}
}

// scene is a heater drawn at random.
type scene struct {
	p Plan
	f Facts
	b Book
	u Use
}

func drawScene(t *rapid.T, zones []*time.Location) scene {
	s := scene{p: Default()}
	day0 := Date(rapid.IntRange(20_000, 20_730).Draw(t, "first day"))
	s.f.Zone = zones[rapid.IntRange(0, len(zones)-1).Draw(t, "zone")]
	s.f.Dusty = rapid.Bool().Draw(t, "dusty")
	span := rapid.IntRange(1, 400).Draw(t, "days")
	start := rapid.Float64Range(0, 2000).Draw(t, "start hours")
	s.b.Begin(day0.Start(nil), start)
	hours, perDay := start, rapid.Float64Range(0, 24).Draw(t, "per day")
	for d := range span {
		s.u.Add(day0+Date(d), perDay)
		hours += perDay
	}
	doubt := rapid.Float64Range(0, 30).Draw(t, "doubt")
	s.f.Hours = Hours{hours, hours - doubt/2, hours + doubt}
	s.f.Now = (day0 + Date(span)).Start(nil).Add(-time.Duration(rapid.IntRange(1, 86399).Draw(t, "second")) * time.Second)
	if rapid.Bool().Draw(t, "deployed") {
		s.b.Deploy(s.f.Now.Add(-time.Duration(rapid.IntRange(0, 400).Draw(t, "hours ago")) * time.Hour))
	}
	for i := range s.p.Tasks {
		if rapid.Bool().Draw(t, "logged") {
			back := rapid.Float64Range(0, 1).Draw(t, "back")
			at := s.f.Now - reading.Instant(back*float64(s.f.Now-s.b.Since))
			s.b.Done(s.p, at, known(hours-back*(hours-start)), s.p.Tasks[i].ID)
		}
	}
	return s
}

func (s *scene) status() []Standing { return Status(s.p, s.f, &s.b, &s.u) }

func threeZones(t testing.TB) []*time.Location {
	return []*time.Location{zone(t, "Europe/Dublin"), zone(t, "America/Chicago"), zone(t, "Australia/Lord_Howe")}
}

func TestDoingOneTaskMovesNoOtherAndNeverSooner(t *testing.T) {
	zones := threeZones(t)
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t, zones)
		before := s.status()
		k := rapid.IntRange(0, len(s.p.Tasks)-1).Draw(t, "task")
		s.b.Done(s.p, s.f.Now, s.f.Hours, s.p.Tasks[k].ID)
		for i, after := range s.status() {
			if i != k && !same(after, before[i]) {
				t.Fatalf("doing %s moved %s from %+v to %+v", s.p.Tasks[k].ID, after.Task, before[i], after)
			}
			if i == k && (sortable(after.DueOn) < sortable(before[i].DueOn) || after.State.Rank() > before[i].State.Rank()) {
				t.Fatalf("doing %s brought it from %s %v to %s %v", after.Task, before[i].State, before[i].DueOn, after.State, after.DueOn)
			}
		}
	})
}

func TestMoreHoursNeverFallDueLater(t *testing.T) {
	zones := threeZones(t)
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t, zones)
		before := s.status()
		more := rapid.Float64Range(0, 700).Draw(t, "more")
		s.f.Hours.Est += more
		s.f.Hours.Low += more
		s.f.Hours.High += more
		for i, after := range s.status() {
			b := before[i]
			if after.State.Rank() < b.State.Rank() || sortable(after.DueOn) > sortable(b.DueOn) ||
				sortable(after.DueEarly) > sortable(b.DueEarly) || sortable(after.DueLate) > sortable(b.DueLate) {
				t.Fatalf("%v h more put %s from %s %v %v %v off to %s %v %v %v", more, b.Task, b.State, b.DueEarly, b.DueOn, b.DueLate, after.State, after.DueEarly, after.DueOn, after.DueLate)
			}
		}
	})
}

func TestTheEarliestTriggerWins(t *testing.T) {
	zones := threeZones(t)
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t, zones)
		for i, all := range s.status() {
			for _, g := range s.p.Tasks[i].Triggers {
				one := s
				one.p.Tasks = append([]Task(nil), s.p.Tasks...)
				one.p.Tasks[i].Triggers = []Trigger{g}
				alone := one.status()[i]
				if sortable(all.DueOn) > sortable(alone.DueOn) || all.State.Rank() < alone.State.Rank() {
					t.Fatalf("%s is %s on %v although %s alone is %s on %v", all.Task, all.State, all.DueOn, g.Kind, alone.State, alone.DueOn)
				}
			}
		}
	})
}

func TestTheRangeIsInOrder(t *testing.T) {
	zones := threeZones(t)
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t, zones)
		for _, x := range s.status() {
			if sortable(x.DueEarly) > sortable(x.DueOn) || sortable(x.DueOn) > sortable(x.DueLate) {
				t.Fatalf("%s: %v, %v, %v", x.Task, x.DueEarly, x.DueOn, x.DueLate)
			}
			if x.State == OK && x.DueOn != nil && *x.DueOn <= DateOf(s.f.Now, s.f.Zone) && x.Trigger.Kind != BurnerHours {
				t.Fatalf("%s is ok although due on %v", x.Task, x.DueOn)
			}
		}
	})
}

// What is told without forecasts is what is told with them.
func TestStatesAgreeWithStatus(t *testing.T) {
	zones := threeZones(t)
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t, zones)
		whole := s.status()
		for i, got := range AppendStates(nil, s.p, s.f, &s.b, &s.u) {
			want := whole[i]
			want.DueOn, want.DueEarly, want.DueLate = nil, nil, nil
			if want.State == OK {
				want.Trigger, want.HoursLeft = Trigger{}, nil
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Fatalf("(-with +without)\n%s", diff)
			}
		}
	})
}

func TestBookDoesNotMindOrder(t *testing.T) {
	p := Default()
	rapid.Check(t, func(t *rapid.T) {
		type entry struct{ at, h, task int }
		entries := rapid.SliceOf(rapid.Custom(func(t *rapid.T) entry {
			return entry{rapid.IntRange(1, 9).Draw(t, "at"), rapid.IntRange(0, 9).Draw(t, "h"), rapid.IntRange(0, 13).Draw(t, "task")}
		})).Draw(t, "entries")
		book := func(es []entry) (b Book) {
			for _, e := range es {
				b.Done(p, reading.Instant(e.at), known(float64(e.h)), p.Tasks[e.task].ID)
				b.Deploy(reading.Instant(e.at))
				b.Begin(reading.Instant(e.at), 5)
			}
			return b
		}
		shuffled := rapid.Permutation(entries).Draw(t, "order")
		if book(entries) != book(append(shuffled, entries...)) {
			t.Fatal("order or repetition shows")
		}
	})
}

func sortable(d *Date) Date {
	if d == nil {
		return math.MaxInt32
	}
	return *d
}

func same(a, b Standing) bool {
	return a.State == b.State && sortable(a.DueOn) == sortable(b.DueOn) && sortable(a.DueEarly) == sortable(b.DueEarly) &&
		sortable(a.DueLate) == sortable(b.DueLate) && a.HoursSince == b.HoursSince
}

// known is an hour meter without doubt.
func known(h float64) Hours { return Hours{h, h, h} }
