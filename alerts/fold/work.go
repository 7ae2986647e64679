package fold

import (
	"slices"

	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Tasks that are no work on the heater.
const (
	refuel    = "refuel" // the tank was filled
	readMeter = "meter"  // the hour meter was read
)

// sensorCheck is the task whose alarm has a kind of its own.
const sensorCheck = "co-sensor-check"

// startWork begins a heater's service book.
func (h *heater) startWork(at reading.Instant) {
	if h.Work.Since == 0 {
		h.Work.Begin(at, h.HoursAtStart)
	}
}

// meter is the heater's hour meter at an instant by one copy.
func (h *heater) meter(w *Witness, at reading.Instant) service.Hours {
	run := w.Burner.HoursAt(at)
	return service.Hours{Est: h.HoursAtStart + run.Hours, Low: h.HoursAtStart + run.Low, High: h.HoursAtStart + run.High}
}

// knows reports whether an entry of a task means something.
func (h *heater) knows(task string) bool {
	return slices.Contains([]string{"", refuel, readMeter, fitNode}, task) || h.rules.Plan.Index(task) >= 0
}

// closes lists the tasks that an entry closes. A look-over that keeps the
// heater off does not close itself.
func closes(en record.Entry) []string {
	if keepsOff(en) {
		return en.Tasks
	}
	return append([]string{en.Task}, en.Tasks...)
}

func keepsOff(en record.Entry) bool {
	return en.Task == service.LookOverTask && service.KeepsOff(en.Found)
}

// deploys gives when an entry calls for a look-over before the next use,
// whenever it was done before; 0 where it does not.
func deploys(m mark) reading.Instant {
	switch {
	case keepsOff(m.Entry):
		return m.when()
	case m.Entry.Task == fitNode:
		return m.At
	}
	return 0
}

// workDone closes the tasks an entry names, and gives what they are marked
// with.
func (h *heater) workDone(b *service.Book, w *Witness, m mark) service.Mark {
	if meter := &w.Burner.Meter; m.Entry.MeterH != nil && meter.At == m.when() {
		b.Rebase(*m.Entry.MeterH, meter.Step)
		b.Reframe(meter.Beyond)
		if b == &h.Work {
			h.Journal.restamp(func(k *service.Mark) {
				k.Rebase(*m.Entry.MeterH, meter.Step)
				k.Reframe(meter.Beyond)
			})
		}
	}
	b.Deploy(deploys(m))
	meter := h.meterAt(w, m)
	b.Done(h.rules.Plan, m.when(), meter, closes(m.Entry)...)
	return service.MarkOf(m.when(), meter)
}

// standings tells where every task stands now, by everything received.
func (h *heater) standings(now reading.Instant) []service.Standing {
	w := h.written(now)
	return service.Status(h.rules.Plan, h.workFacts(w, now), h.doneSoFar(w), &h.Use)
}

// doneSoFar is the book with the entries that are not settled.
func (h *heater) doneSoFar(w *Witness) *service.Book {
	book := &h.Work
	for _, m := range h.Marks {
		if m.N <= h.Settled.Marked {
			continue
		}
		if book == &h.Work {
			book = new(h.Work)
		}
		h.workDone(book, w, m)
	}
	return book
}

func (h *heater) workFacts(w *Witness, now reading.Instant) service.Facts {
	f := service.Facts{
		Now: now, Zone: h.site.Zone, Hours: h.meter(w, now), Today: w.ranToday(now), Dusty: h.Dusty, Season: h.rules.Season,
	}
	if d, err := service.ParseDate(h.COCheckDue); err == nil {
		f.SensorDue = d
	}
	return f
}

// lookAtWork raises the alarms of work that falls due: one a task, the kind
// by its state. Dates are worked out when somebody asks for them.
func (e *Engine) lookAtWork(h *heater) {
	h.stand = nil
	h.forgetNotes(e.now)
	w := h.written(e.now)
	e.states = service.AppendStates(e.states[:0], h.rules.Plan, h.workFacts(w, e.now), h.doneSoFar(w), &h.Use)
	for i, s := range e.states {
		e.due(h, i, s, alarm.ServiceDueSoon, s.State == service.DueSoon)
		e.due(h, i, s, alarm.ServiceDue, s.State == service.Due)
		e.due(h, i, s, alarm.ServiceOverdue, s.State == service.Overdue)
	}
}

// due observes one stage of the work on a task, the plan's i-th.
func (e *Engine) due(h *heater, i int, s service.Standing, k alarm.Kind, active bool) {
	key := h.key(k)
	key.Detail = s.Task
	if s.Task == sensorCheck {
		key.Kind = alarm.COSensorCheckDue
		if k != alarm.ServiceDue {
			return
		}
		active = s.State == service.Due || s.State == service.Overdue
	}
	e.put(active, key, func(c *alarm.Condition) {
		if s.State == service.OK { // an alarm ends: by what, only the whole standing tells
			s = h.asked(e.now)[i]
		}
		c.Findings.Evidence = []string{s.Why()}
		c.Findings.Task, c.Findings.Cautions = h.rules.Plan.Tasks[i].Title, h.rules.Plan.Tasks[i].Cautions
		if s.HoursLeft != nil {
			c.Value, c.HasValue, c.Unit = *s.HoursLeft, true, "h"
		}
	})
	if !active {
		e.movedOn(key)
	}
}

// movedOn ends a stage of service work that is over: the work is in the next
// stage, which is told, or a person wrote it down.
func (e *Engine) movedOn(key alarm.Key) {
	a, ok := e.book.Get(key)
	if !ok || a.State != alarm.Returned {
		return
	}
	ts, err := e.book.Answer(e.now, record.Answer{
		Act: record.Acknowledge, Alarm: a.ID, By: "heaterd", Role: alarm.Technician, From: alarm.ByItself,
		Why: "the work has moved on, or was written down",
	})
	e.emit(ts)
	if err != nil {
		e.effects.Errors = append(e.effects.Errors, err)
	}
}

// harmAt gives the time until the heater's space is too cold, the earliest and
// the latest that fits what was learned of it; late is 0 where it may never
// get that cold.
func (h *heater) harmAt(now reading.Instant) (early, late time.Duration, ok bool) {
	if h.space == nil || h.space.ProtectAboveC == nil {
		return 0, 0, false
	}
	o, ok := h.Live.Warm.Outlook(*h.space.ProtectAboveC)
	if !ok {
		return 0, 0, false
	}
	age := h.Live.Warm.Age(now)
	early = hours(o.Early - age)
	if !o.LateNever {
		late = hours(o.Late - age)
	}
	return early, late, true
}

func hours(h float64) time.Duration { return time.Duration(max(0, h) * float64(time.Hour)) }

// harm weighs an alarm of a heater by the time until its space is too cold.
func (e *Engine) harm(h *heater, k alarm.Kind, c *alarm.Condition) alarm.Priority {
	early, late, ok := h.harmAt(e.now)
	if !ok {
		return alarm.PriorityOf(k, alarm.Unknown, "")
	}
	c.Findings.HasHarm, c.Findings.HarmEarly, c.Findings.HarmLate = true, early, late
	return alarm.PriorityOf(k, early, alarm.Property)
}
