package alarm

import (
	"slices"

	"heaterd/ingest/reading"
)

// Book holds the last occurrence of every key that ever had one.
type Book struct {
	rules   map[Kind]Rule
	entries map[Key]*entry
	numbers map[string]int  // last number given out, by stem
	next    reading.Instant // no timer runs out before this; 0: none runs
	touched map[*entry]struct{}
	words   func(Alarm) string
}

type entry struct {
	Alarm
	stem string
	rule Rule
}

// NewBook makes an empty book. A kind without a rule gets the default one.
func NewBook(rules []Rule) *Book {
	b := &Book{
		rules: map[Kind]Rule{}, entries: map[Key]*entry{},
		numbers: map[string]int{}, touched: map[*entry]struct{}{},
	}
	for _, r := range rules {
		b.rules[r.Kind] = r
	}
	return b
}

// Speak sets what words the Text of an alarm at each change of state. It must
// be pure. Without it there is no Text.
func (b *Book) Speak(words func(Alarm) string) { b.words = words }

// Restore puts alarms back as All gave them; timers go on where they were.
// Of several occurrences of one key the last counts.
func (b *Book) Restore(alarms []Alarm) {
	for _, a := range alarms {
		stem := a.Key.stem()
		b.numbers[stem] = max(b.numbers[stem], a.N)
		if old := b.entries[a.Key]; old != nil && old.N > a.N {
			continue
		}
		e := &entry{Alarm: a, stem: stem, rule: b.rule(a.Kind)}
		b.entries[a.Key] = e
		b.expect(e)
	}
}

func (b *Book) rule(k Kind) Rule {
	if r, ok := b.rules[k]; ok {
		return r
	}
	return ruleOf(k)
}

// All lists the last occurrence of every key, over or not, by place and kind.
func (b *Book) All() []Alarm {
	all := make([]Alarm, 0, len(b.entries))
	for _, e := range b.entries {
		all = append(all, e.Alarm)
	}
	return sorted(all)
}

// Live lists the alarms that are not over, by place and kind.
func (b *Book) Live() []Alarm {
	var live []Alarm
	for _, e := range b.entries {
		if !e.Over() {
			live = append(live, e.Alarm)
		}
	}
	return sorted(live)
}

// Touched lists the alarms that changed in any way since it was last called,
// timers and values included: the rows to write down. By place and kind.
func (b *Book) Touched() []Alarm {
	rows := make([]Alarm, 0, len(b.touched))
	for e := range b.touched {
		rows = append(rows, e.Alarm)
	}
	clear(b.touched)
	return sorted(rows)
}

func sorted(as []Alarm) []Alarm {
	slices.SortFunc(as, func(x, y Alarm) int { return x.Key.Compare(y.Key) })
	return as
}

// Get finds the last occurrence of a key.
func (b *Book) Get(k Key) (Alarm, bool) {
	if e := b.entries[k]; e != nil {
		return e.Alarm, true
	}
	return Alarm{}, false
}

// find finds an alarm by id, if it is the last occurrence of its key.
func (b *Book) find(id string) *entry {
	for _, e := range b.entries {
		if e.ID == id {
			return e
		}
	}
	return nil
}

// Quiet reports whether an observation that k does not hold would change
// nothing: as far as the book knows it does not hold, and no on-delay runs.
// It costs one look into a map.
func (b *Book) Quiet(k Key) bool {
	e := b.entries[k]
	return e == nil || !e.Active && e.OnFrom == 0
}

// begin makes ready the next occurrence of the entry's key. Its number is
// given out now, so that two keys of one stem never share an id. An on-delay
// that runs goes on.
func (b *Book) begin(e *entry) {
	b.numbers[e.stem]++
	n := b.numbers[e.stem]
	next := Alarm{
		ID: id(e.stem, n), Key: e.Key, N: n, State: Normal,
		Recent: e.Recent, Chattering: e.Chattering,
	}
	if e.OnFrom != 0 {
		next.pendingFrom(&e.Alarm)
	}
	e.Alarm = next
}

func (a *Alarm) pendingFrom(o *Alarm) {
	a.OnFrom, a.Since, a.Priority = o.OnFrom, o.Since, o.Priority
	a.Value, a.Worst, a.Limit, a.HasValue, a.Unit = o.Value, o.Worst, o.Limit, o.HasValue, o.Unit
	a.Text, a.Findings, a.Pending = o.Text, o.Findings, o.Pending
}

// place finds or makes the entry of a key, ready to be raised: a fresh
// occurrence unless one is under way.
func (b *Book) place(k Key) *entry {
	e := b.entries[k]
	if e == nil {
		e = &entry{Alarm: Alarm{Key: k}, stem: k.stem(), rule: b.rule(k.Kind)}
		b.entries[k] = e
		b.begin(e)
	}
	b.renew(e)
	b.touched[e] = struct{}{}
	return e
}

// renew begins the next occurrence if the last one is over.
func (b *Book) renew(e *entry) {
	if e.State == Normal && e.Raised != 0 {
		b.begin(e)
	}
}

// person is who caused a transition; empty for the process and the clock.
type person struct{ name, role, where, why, cause string }

// move applies one event to one alarm by the table. It gives nothing where
// the table says that nothing changes.
func (b *Book) move(e *entry, ev Event, at reading.Instant, who person) []Transition {
	effect := life[e.State][ev]
	if effect == nothing || effect == refuse {
		return nil
	}
	from := e.State
	at = max(at, e.Changed) // the history of one alarm never runs backwards
	if ev == Acknowledge {
		e.Acked, e.AckedAt, e.AckedBy = true, at, who.name
	}
	to := effect.goal(&e.Alarm, e.rule.Latching)
	e.enter(from, to, at, who)
	if b.words != nil {
		e.Text = b.words(e.Alarm)
	}
	b.expect(e)
	return []Transition{{
		At: at, Alarm: e.Alarm, From: from, To: to, Event: ev,
		By: who.name, Role: who.role, Where: who.where, Why: who.why,
		ReAlarm: ev == AlarmAgain && to == Unacknowledged,
	}}
}

func (e *entry) enter(from, to State, at reading.Instant, who person) {
	e.State, e.Changed = to, at
	e.Seq++
	if e.Raised == 0 {
		e.Raised = at
	}
	if to == Unacknowledged {
		e.Acked, e.AckedAt, e.AckedBy = false, 0, ""
	}
	if from != to {
		e.leave(from)
	}
	if to == Shelved || to == OutOfService || to == Suppressed {
		e.HeldBy, e.Why, e.Cause = who.name, who.why, who.cause
	}
}

// leave forgets what only mattered in the state that is left.
func (a *Alarm) leave(from State) {
	switch from {
	case Shelved, OutOfService, Suppressed:
		a.ShelvedUntil, a.HeldBy, a.Why, a.Cause = 0, "", "", ""
	}
}
