package rota

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Terms are what a rota is made of.
type Terms struct {
	Zone      *time.Location // nil: UTC
	Turns     []string       // people in turn, a week each
	Begins    string         // date YYYY-MM-DD of the first turn
	HandOver  time.Duration  // time of day by the clock
	Calendar  *Calendar      // instead of turns
	Overrides []Override     // the last one listed counts
	Holidays  []Holiday
}

// Override puts a person on call from From until To.
type Override struct {
	Person   string
	From, To time.Time
}

// Holiday takes a person off call from From until To.
type Holiday struct {
	Person   string
	From, To time.Time
}

// Shift is a stretch in which one person is on call.
type Shift struct {
	Person   string
	From, To time.Time
}

// Gap is a stretch in which nobody is.
type Gap struct{ From, To time.Time }

// lookAhead is how far Next looks in a calendar, and week the length of a
// turn in days.
const (
	lookAhead = 60 * 24 * time.Hour
	week      = 7
)

// Rota says who is on call.
type Rota struct {
	terms  Terms
	begins time.Time // midnight of the first turn's date, as if it were UTC
}

// New makes a rota. It gives an error for turns without a proper date.
func New(t Terms) (*Rota, error) {
	r := &Rota{terms: t}
	r.terms.Zone = cmp.Or(t.Zone, time.UTC)
	if len(t.Turns) == 0 {
		return r, nil
	}
	if t.Calendar != nil {
		return nil, errors.New("cannot take turns and a calendar at once")
	}
	begins, err := time.Parse(time.DateOnly, t.Begins)
	if err != nil {
		return nil, fmt.Errorf("cannot tell when the turns begin: %q is no date such as 2026-01-12", t.Begins)
	}
	r.begins = begins
	return r, nil
}

// OnCall gives who is on call; ok is false where nobody is.
func (r *Rota) OnCall(at time.Time) (person string, ok bool) {
	person = r.onCall(at, r.spans(at, at.Add(1)))
	return person, person != ""
}

// Next gives who comes after whoever is on call and is there now: the next in
// the order of turns, or the next in the calendar. ok is false if there is
// nobody else.
func (r *Rota) Next(at time.Time) (person string, ok bool) {
	now, _ := r.OnCall(at)
	if r.terms.Calendar == nil {
		person = r.nextInTurn(at, now)
	} else {
		person = r.nextInCalendar(at, now)
	}
	return person, person != ""
}

func (r *Rota) nextInTurn(at time.Time, now string) string {
	n, ok := r.turn(at)
	if !ok {
		n = -1 // the first turn is what comes
	}
	for i := range r.terms.Turns {
		if p := r.inTurn(n + 1 + i); p != now && !r.away(p, at) {
			return p
		}
	}
	return ""
}

func (r *Rota) nextInCalendar(at time.Time, now string) string {
	for _, s := range r.Shifts(at, at.Add(lookAhead)) {
		if s.Person != now && !r.away(s.Person, at) {
			return s.Person
		}
	}
	return ""
}

// Shifts lists who is on call between two instants, in order, without the
// gaps.
func (r *Rota) Shifts(from, to time.Time) []Shift {
	var out []Shift
	for _, s := range r.Stretches(from, to) {
		if s.Person != "" {
			out = append(out, s)
		}
	}
	return out
}

// Gaps lists the stretches between two instants in which nobody is on call,
// in order.
func (r *Rota) Gaps(from, to time.Time) []Gap {
	var out []Gap
	for _, s := range r.Stretches(from, to) {
		if s.Person == "" {
			out = append(out, Gap{s.From, s.To})
		}
	}
	return out
}

// Stretches parts the time between two instants by who is on call, "" for
// nobody; neighbours differ.
func (r *Rota) Stretches(from, to time.Time) []Shift {
	spans := r.spans(from, to)
	edges := r.edges(from, to, spans)
	var out []Shift
	for i, at := range edges[:max(len(edges)-1, 0)] {
		person := r.onCall(at, spans)
		if n := len(out); n > 0 && out[n-1].Person == person {
			out[n-1].To = edges[i+1]
			continue
		}
		out = append(out, Shift{person, at, edges[i+1]})
	}
	return out
}

// edges are the instants at which somebody else may be on call, with the two
// ends.
func (r *Rota) edges(from, to time.Time, spans []span) []time.Time {
	if !from.Before(to) {
		return nil
	}
	all := append([]time.Time{from, to}, r.handOvers(from, to)...)
	for _, o := range r.terms.Overrides {
		all = append(all, o.From, o.To)
	}
	for _, h := range r.terms.Holidays {
		all = append(all, h.From, h.To)
	}
	for _, s := range spans {
		all = append(all, s.from, s.to)
	}
	return inOrder(all, from, to)
}

func (r *Rota) onCall(at time.Time, spans []span) string {
	for _, o := range slices.Backward(r.terms.Overrides) {
		if within(at, o.From, o.To) {
			return o.Person
		}
	}
	if r.terms.Calendar != nil {
		return r.inCalendar(at, spans)
	}
	n, ok := r.turn(at)
	for i := 0; ok && i < len(r.terms.Turns); i++ {
		if p := r.inTurn(n + i); !r.away(p, at) {
			return p
		}
	}
	return ""
}

func within(at, from, to time.Time) bool { return !at.Before(from) && at.Before(to) }

func (r *Rota) away(person string, at time.Time) bool {
	return slices.ContainsFunc(r.terms.Holidays, func(h Holiday) bool {
		return h.Person == person && within(at, h.From, h.To)
	})
}

func (r *Rota) inTurn(n int) string { return r.terms.Turns[n%len(r.terms.Turns)] }

// turn counts the turns from 0; ok is false before the first.
func (r *Rota) turn(at time.Time) (n int, ok bool) {
	if len(r.terms.Turns) == 0 {
		return 0, false
	}
	days := int(showing(at, r.terms.Zone).Sub(r.begins) / (24 * time.Hour))
	for n = days/week + 1; n >= 0 && r.handOver(n).After(at); n-- {
	}
	return n, n >= 0
}

// handOver is when turn n begins.
func (r *Rota) handOver(n int) time.Time {
	return wall(r.begins.AddDate(0, 0, week*n).Add(r.terms.HandOver), r.terms.Zone)
}

func (r *Rota) handOvers(from, to time.Time) []time.Time {
	if len(r.terms.Turns) == 0 {
		return nil
	}
	n, _ := r.turn(from)
	var all []time.Time
	for n = max(n, 0); !r.handOver(n).After(to); n++ {
		all = append(all, r.handOver(n))
	}
	return all
}

// inCalendar gives whose event began last among those that hold and who are
// there.
func (r *Rota) inCalendar(at time.Time, spans []span) string {
	best := span{}
	for _, s := range spans {
		if within(at, s.from, s.to) && !r.away(s.person, at) && (best.person == "" || !s.from.Before(best.from)) {
			best = s
		}
	}
	return best.person
}

func (r *Rota) spans(from, to time.Time) []span {
	if r.terms.Calendar == nil {
		return nil
	}
	return r.terms.Calendar.spans(from, to)
}
