package service

import "math"

// Status tells where every task of the plan stands for one heater, in the
// plan's order.
func Status(p Plan, f Facts, b *Book, u *Use) []Standing {
	v := newView(f, b, u)
	v.whole = true
	return v.all(make([]Standing, 0, len(p.Tasks)), p)
}

// AppendStates is Status, into a slice that is used again, without what costs
// the most: it gives no dates, and of a task that is OK neither hours left nor
// the trigger.
func AppendStates(dst []Standing, p Plan, f Facts, b *Book, u *Use) []Standing {
	v := newView(f, b, u)
	return v.all(dst, p)
}

// view is one heater at one moment, with what all of its tasks share.
type view struct {
	f     Facts
	b     *Book
	u     *Use
	today Date
	first Date // day of the first sight
	heavy bool
	whole bool     // with the dates of hour intervals
	look  *outlook // nil: no such date was asked for yet
	asked hourDates
}

func (v *view) all(dst []Standing, p Plan) []Standing {
	for i := range p.Tasks[:min(len(p.Tasks), MaxTasks)] {
		dst = append(dst, v.standing(i, &p.Tasks[i]))
	}
	return dst
}

// hourDates are the dates of an hour interval. Tasks done at one visit share
// them, and they are what costs the most.
type hourDates struct {
	every            float64
	since            Hours
	early, due, late Date
}

func newView(f Facts, b *Book, u *Use) view {
	f.Season = f.Season.orDefault()
	v := view{f: f, b: b, u: u, today: DateOf(f.Now, f.Zone)}
	v.first = v.today
	if b.Since != 0 {
		v.first = DateOf(b.Since, f.Zone)
	}
	v.heavy = u.in(heavyDays, v.today) >= heavyHours
	return v
}

// verdict is what one trigger says of one task.
type verdict struct {
	trigger          Trigger
	state            State
	since            Hours   // h since the task was done, as this trigger counts
	left             float64 // h, by the best estimate; NaN without an hour interval
	early, due, late Date    // 0: none
}

// standing asks every trigger that applies; the worst state wins, then the
// earliest date, then the plan's order. Dates and hours left are each the
// earliest and least over all triggers.
func (v *view) standing(i int, t *Task) Standing {
	best := verdict{trigger: Trigger{Kind: Condition}, state: OK, since: v.since(v.b.Last[i], v.b.StartHours), left: math.NaN()}
	all, found := best, false
	for _, g := range t.Triggers {
		d, ok := v.judge(g, v.b.Last[i])
		if !ok {
			continue
		}
		if found && !v.whole && d.state == best.state && d.state != OK { // dates decide
			v.date(&d)
			v.date(&best)
		}
		if !found || d.before(best) {
			best, found = d, true
		}
		all.early, all.due, all.late = sooner(all.early, d.early), sooner(all.due, d.due), sooner(all.late, d.late)
		if d.left < all.left || math.IsNaN(all.left) && !math.IsNaN(d.left) {
			all.left, all.since = d.left, d.since
		}
	}
	return v.write(i, t.ID, best, all)
}

func (d verdict) before(o verdict) bool {
	if a, b := d.state.Rank(), o.state.Rank(); a != b {
		return a > b
	}
	return d.due != o.due && sooner(d.due, o.due) == d.due
}

// sooner gives the earlier of two dates of which 0 is none.
func sooner(a, b Date) Date {
	if a == 0 || b != 0 && b < a {
		return b
	}
	return a
}

func (v *view) write(i int, id string, best, all verdict) Standing {
	s := Standing{Task: id, State: best.state, HoursSince: all.since.Est, HoursHigh: all.since.High, Trigger: best.trigger}
	s.Last, s.Logged = v.last(v.b.Last[i])
	if !v.whole {
		return withoutDates(s, all.left)
	}
	room := &struct { // one allocation for all four
		left             float64
		early, due, late Date
	}{all.left, all.early, all.due, all.late}
	if !math.IsNaN(room.left) {
		s.HoursLeft = &room.left
	}
	s.DueEarly, s.DueOn, s.DueLate = some(&room.early), some(&room.due), some(&room.late)
	return s
}

func withoutDates(s Standing, left float64) Standing {
	switch {
	case s.State == OK:
		s.Trigger = Trigger{}
	case !math.IsNaN(left):
		s.HoursLeft = new(left)
	}
	return s
}

func some(d *Date) *Date {
	if *d == 0 {
		return nil
	}
	return d
}

// judge asks one trigger; false: it does not apply to this heater now.
func (v *view) judge(g Trigger, m Mark) (verdict, bool) {
	if !g.applies(v.f.Dusty) {
		return verdict{}, false
	}
	last, logged := v.last(m)
	d := verdict{trigger: g, since: v.since(m, v.b.StartHours), left: math.NaN()}
	switch g.Kind {
	case BurnerHours:
		return v.byHours(d, m), true
	case Days:
		n := math.Ceil(g.Every)
		return v.onDate(d, last+Date(n), n), true
	case Season:
		due, n := v.f.Season.every(last, g.Every)
		return v.onDate(d, due, float64(n)), true
	case HeavyMonth:
		n := max(1, math.Floor(heavyDays/g.Every))
		return v.onDate(d, last+Date(n), n), v.heavy
	case SeasonEnd:
		due := v.f.Season.endAfter(last, logged)
		return v.onDate(d, due, float64(v.f.Season.length())), true
	case Deployment:
		return v.onDate(d, DateOf(v.b.Deployed, v.f.Zone), 0), v.b.Deployed != 0 && v.b.Deployed > m.At
	case SensorDate:
		return v.onDate(d, v.f.SensorDue, math.Inf(1)), v.f.SensorDue != 0 && !logged
	default:
		return verdict{}, false
	}
}

// last gives the day a task was last done, or that of the first sight.
func (v *view) last(m Mark) (day Date, logged bool) {
	if m.At == 0 {
		return v.first, false
	}
	return DateOf(m.At, v.f.Zone), true
}

// since gives the hours since a mark, or since a given meter reading where
// the task was never logged. The doubt that was there when the work was done
// is not counted again.
func (v *view) since(m Mark, base float64) Hours {
	now := v.f.Hours
	if m.At == 0 {
		return Hours{max(0, now.Est-base), max(0, now.Low-base), max(0, now.High-base)}
	}
	est := max(0, now.Est-m.Hours)
	return Hours{
		Est:  est,
		Low:  max(0, min(est, now.Low-(m.Hours-float64(m.Under)))),
		High: max(est, now.High-(m.Hours+float64(m.Over))),
	}
}

// byHours judges an hour interval. A task never logged is taken as done at
// the last full interval of the hour meter, as a service sticker would have
// it: 412.5 h at the start leave 87.5 h of 500.
func (v *view) byHours(d verdict, m Mark) verdict {
	every := d.trigger.Every
	d.since = v.since(m, math.Floor((v.b.StartHours-v.b.Swapped)/every)*every+v.b.Swapped)
	d.left = every - d.since.Est
	d.state = hourState(every-d.since.High, every)
	if v.whole {
		v.date(&d)
	}
	return d
}

// date forecasts when an hour interval ends; other triggers have their dates.
func (v *view) date(d *verdict) {
	if d.trigger.Kind != BurnerHours {
		return
	}
	if v.look == nil {
		o := newOutlook(v.u, v.f)
		v.look = &o
	}
	every := d.trigger.Every
	if v.asked.every != every || v.asked.since != d.since {
		v.asked = hourDates{
			every: every, since: d.since,
			early: v.look.day(every-d.since.High, earlyEnd), due: v.look.day(d.left, middle), late: v.look.day(every-d.since.Low, lateEnd),
		}
	}
	d.early, d.due, d.late = v.asked.early, v.asked.due, v.asked.late
}

func hourState(left, every float64) State {
	switch {
	case left < -lateShare*every:
		return Overdue
	case left <= 0:
		return Due
	case left <= soonShare*every:
		return DueSoon
	default:
		return OK
	}
}

// onDate judges a day of the calendar reached after an interval of so many
// days; an infinite interval leaves soonDays and lateDays alone to decide.
func (v *view) onDate(d verdict, due Date, interval float64) verdict {
	d.early, d.due, d.late = due, due, due
	soon := math.Ceil(min(soonDays, soonShare*interval))
	late := lateDays
	if interval > 0 {
		late = math.Ceil(min(late, lateShare*interval))
	}
	switch past := float64(v.today - due); {
	case past > late:
		d.state = Overdue
	case past >= 0:
		d.state = Due
	case -past <= soon:
		d.state = DueSoon
	default:
		d.state = OK
	}
	return d
}
