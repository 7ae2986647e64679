package alarm

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// The roles that may answer.
const (
	Technician = "technician"
	Safety     = "safety"
)

// ByItself is from where heaterd acknowledges what needs nobody any more.
const ByItself = "engine"

// Refusal is the error of an answer that cannot be carried out.
type Refusal struct {
	Fault  Fault
	Act    record.Act
	Alarm  string // id, or the heater for the service acts
	Advice string // the whole sentence: what cannot be, why, and what to do
}

func (r *Refusal) Error() string { return r.Advice }

// Fault says what kind of refusal it is, for a status code.
type Fault string

// The faults.
const (
	NoSuchAlarm Fault = "no-such-alarm"
	NotAllowed  Fault = "not-allowed"   // the role may not
	Incomplete  Fault = "incomplete"    // a name, reason or time is missing
	NotNow      Fault = "not-now"       // not in the state the alarm is in
	NotThisKind Fault = "not-this-kind" // never for this kind
)

// Answer carries out what a person asked. An answer that changes nothing
// (acknowledging twice) gives neither a transition nor an error; one that
// cannot be carried out gives a *Refusal and changes nothing but timers that
// had run out before.
func (b *Book) Answer(now reading.Instant, a record.Answer) ([]Transition, error) {
	out := b.Tick(now)
	done, err := b.answer(now, a)
	return append(out, done...), err
}

func (b *Book) answer(now reading.Instant, a record.Answer) ([]Transition, error) {
	e := b.find(a.Alarm)
	switch {
	case a.Alarm == "" && a.Heater != "":
		return b.answerHeater(now, a)
	case e == nil:
		return nil, refusal(NoSuchAlarm, a, "there is no alarm %q now: it may be over; look at the page of alarms", a.Alarm)
	case e.Kind == HeaterOutOfService && (a.Act == record.OutOfService || a.Act == record.InService):
		a.Alarm, a.Heater = "", e.Heater
		return b.answerHeater(now, a)
	}
	if err := cmp.Or(mayAct(a), complete(a), e.kindAllows(a), e.stateAllows(now, a)); err != nil {
		return nil, err
	}
	b.touched[e] = struct{}{}
	return b.carryOut(e, now, a), nil
}

// words writes a length of time as people read it: 15 min, 1 h 30 min, 9 days.
func words(d time.Duration) string {
	if d < 2*day {
		return pair(d, time.Hour, "h", time.Minute, "min")
	}
	return pair(d, day, "days", time.Hour, "h")
}

// pair writes it in two units, without one of which there is none.
func pair(d, great time.Duration, greats string, small time.Duration, smalls string) string {
	g, s := d/great, d%great/small
	switch {
	case g == 0:
		return fmt.Sprintf("%d %s", s, smalls)
	case s == 0:
		return fmt.Sprintf("%d %s", g, greats)
	default:
		return fmt.Sprintf("%d %s %d %s", g, greats, s, smalls)
	}
}

func by(a record.Answer) person {
	return person{name: a.By, role: a.Role, where: a.From, why: a.Why}
}

func (b *Book) carryOut(e *entry, now reading.Instant, a record.Answer) []Transition {
	who := by(a)
	if a.Act == record.Shelve {
		span := min(a.For, e.rule.MaxShelve)
		if span < a.For {
			who.why += fmt.Sprintf(" (asked for %s, at most %s)", words(a.For), words(span))
		}
		e.ShelvedUntil = now.Add(span)
	}
	if e.State == Latched && a.Act == record.Acknowledge && e.Acked {
		return nil
	}
	return b.move(e, events[a.Act], now, who)
}

var events = map[record.Act]Event{
	record.Acknowledge: Acknowledge, record.Shelve: Shelve, record.Unshelve: Unshelve,
	record.Reset: Reset, record.OutOfService: TakeOut, record.InService: PutBack,
}

func refusal(f Fault, a record.Answer, format string, args ...any) error {
	return &Refusal{Fault: f, Act: a.Act, Alarm: cmp.Or(a.Alarm, a.Heater), Advice: fmt.Sprintf(format, args...)}
}

func mayAct(a record.Answer) error {
	switch {
	case events[a.Act] == "":
		return refusal(Incomplete, a, "%q is no act: use acknowledge, shelve, unshelve, reset, out-of-service or in-service", a.Act)
	case a.Act == record.Reset && a.Role != Safety:
		return refusal(NotAllowed, a, "only the safety role may reset: ask whoever cleared the space to do it")
	case a.Role != Technician && a.Role != Safety:
		return refusal(NotAllowed, a, "the role %q may only look: %s needs the technician or safety role", a.Role, a.Act)
	default:
		return nil
	}
}

func complete(a record.Answer) error {
	reasoned := a.Act == record.Shelve || a.Act == record.Reset || a.Act == record.OutOfService
	switch {
	case a.By == "":
		return refusal(Incomplete, a, "%s needs a name: say who you are", a.Act)
	case reasoned && a.Why == "" && a.Act == record.Reset:
		return refusal(Incomplete, a, "reset needs a reason: say how and by whom the site cleared the space")
	case reasoned && a.Why == "":
		return refusal(Incomplete, a, "%s needs a reason: say why", a.Act)
	case a.Act == record.Shelve && a.For < time.Minute:
		return refusal(Incomplete, a, "shelving needs a time of at least a minute: say for how long")
	default:
		return nil
	}
}

func (e *entry) kindAllows(a record.Answer) error {
	silencing := a.Act == record.Shelve || a.Act == record.OutOfService
	switch {
	case silencing && e.rule.HighlyManaged:
		return refusal(NotThisKind, a,
			"%s cannot be %s: it concerns the air people breathe; follow the site's procedure, acknowledge it, and have the safety role reset it once the site cleared the space",
			e.ID, done[a.Act])
	case a.Act == record.Shelve && e.rule.MaxShelve <= 0:
		return refusal(NotThisKind, a, "%s cannot be shelved: its rule has no shelving time", e.ID)
	default:
		return nil
	}
}

var done = map[record.Act]string{record.Shelve: "shelved", record.OutOfService: "taken out of service"}

func (e *entry) stateAllows(now reading.Instant, a record.Answer) error {
	if a.Act == record.Reset && e.State == Latched && !e.Acked {
		return refusal(NotNow, a, "%s cannot be reset before it is acknowledged: acknowledge it first", e.ID)
	}
	if e.State != Normal && life[e.State][events[a.Act]] != refuse { // over is over: a table's cell for it is the process's
		return nil
	}
	return refusal(NotNow, a, "%s is %s: %s", e.ID, e.State, e.advice(now, a.Act))
}

// advice says what to do instead of an act that the state refuses.
func (e *entry) advice(now reading.Instant, act record.Act) string {
	switch {
	case e.State == Normal:
		return "it is over, there is nothing left to do"
	case act == record.Unshelve:
		return "it is not shelved, so there is nothing to end"
	case act == record.InService:
		return "it is not out of service, so there is nothing to end"
	case e.State == Shelved:
		return "end the shelving first"
	case e.State == OutOfService:
		return "put it back in service first"
	case e.State == Suppressed:
		return "it asks nothing of anybody (" + e.Why + ")"
	case act == record.Reset && e.rule.Latching:
		return e.notYet(now)
	case act == record.Reset && e.State == Acknowledged:
		return "it is not reset: it ends by itself once what it tells of is over"
	case act == record.Reset:
		return "it is not reset: acknowledge it, and it ends by itself once what it tells of is over"
	default:
		return "acknowledge it, and have the safety role reset it once the site cleared the space"
	}
}

// notYet says how long the readings of what latches have to be back to normal
// before a reset is taken, and how much of that has passed.
func (e *entry) notYet(now reading.Instant) string {
	if e.OffFrom == 0 {
		return fmt.Sprintf("the condition still holds; it can be reset once the readings have been back to normal for %s and the site has cleared the space", words(e.offDelay()))
	}
	left := e.OffFrom.Add(e.offDelay()).Sub(now)
	if left <= 0 { // only a measurement ends it
		return "the readings were back to normal, but the condition holds until a reading says so again; then it can be reset, once the site has cleared the space"
	}
	left = (left + time.Minute - 1).Truncate(time.Minute)
	return fmt.Sprintf("the readings are back to normal, and have to stay so for another %s; then it can be reset, once the site has cleared the space", words(left))
}

// mark is the key under which a heater's being out of service is kept.
func mark(heater string) Key { return Key{Kind: HeaterOutOfService, Heater: heater} }

// answerHeater takes a heater out of service, with all its alarms but those
// that concern people, or puts it back.
func (b *Book) answerHeater(now reading.Instant, a record.Answer) ([]Transition, error) {
	if err := cmp.Or(mayAct(a), complete(a)); err != nil {
		return nil, err
	}
	out := b.Out(a.Heater)
	switch {
	case a.Act == record.OutOfService && !out:
		return b.wholeHeater(now, a, b.place(mark(a.Heater))), nil
	case a.Act == record.InService && out:
		return b.wholeHeater(now, a, b.entries[mark(a.Heater)]), nil
	case a.Act == record.OutOfService:
		return nil, nil
	case a.Act == record.InService:
		return nil, refusal(NotNow, a, "%s is in service already", a.Heater)
	default:
		return nil, refusal(NotThisKind, a, "%s is for one alarm: name the alarm", a.Act)
	}
}

// Out reports whether a heater is out of service.
func (b *Book) Out(heater string) bool {
	m := b.entries[mark(heater)]
	return m != nil && m.State == OutOfService
}

func (b *Book) wholeHeater(now reading.Instant, a record.Answer, m *entry) []Transition {
	who := by(a)
	b.touched[m] = struct{}{}
	m.Priority = m.rule.Priority
	out := b.move(m, events[a.Act], now, who)
	for _, e := range b.ofHeater(a.Heater) {
		b.touched[e] = struct{}{}
		if life[e.State][events[a.Act]] != refuse {
			out = append(out, b.move(e, events[a.Act], now, who)...)
		}
	}
	return out
}

// ofHeater lists a heater's alarms that its being out of service governs.
func (b *Book) ofHeater(heater string) []*entry {
	var es []*entry
	for k, e := range b.entries {
		if k.Heater == heater && k.Kind != HeaterOutOfService && !e.rule.HighlyManaged && !e.Over() {
			es = append(es, e)
		}
	}
	slices.SortFunc(es, func(x, y *entry) int { return x.Key.Compare(y.Key) })
	return es
}
