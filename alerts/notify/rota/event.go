package rota

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/teambition/rrule-go"
)

// event is one VEVENT. Times that clocks show are kept as if they were UTC.
type event struct {
	uid, summary, person string
	sequence             int
	cancelled            bool
	instead              time.Time // RECURRENCE-ID: the occurrence it stands for; zero: it stands for itself

	shown    time.Time // first start, as clocks in zone show it
	zone     *time.Location
	days     time.Duration // length by the clock
	exact    time.Duration // and by elapsed time on top
	rule     *rrule.ROption
	extra    []time.Time // RDATE
	except   []time.Time // EXDATE and moved occurrences, in order once the calendar is read
	dayOff   []time.Time // EXDATE by date: midnight, as if UTC; in order as well
	wholeDay bool
}

func (r Reader) event(raw *ics.VEvent) (event, error) {
	e := event{
		uid: text(raw, "UID"), summary: text(raw, "SUMMARY"), person: r.who(raw),
		cancelled: strings.EqualFold(text(raw, "STATUS"), "CANCELLED"),
	}
	e.sequence, _ = strconv.Atoi(text(raw, "SEQUENCE"))
	for _, read := range []func(*ics.VEvent, *event) error{r.start, r.length, r.exceptions, r.repetition, r.stand} {
		if err := read(raw, &e); err != nil {
			return event{}, err
		}
	}
	return e, nil
}

func (r Reader) start(raw *ics.VEvent, e *event) error {
	p := raw.GetProperty("DTSTART")
	if p == nil {
		return errNoStart
	}
	m, err := r.moment(p.BaseProperty, p.Value)
	if err != nil {
		return fmt.Errorf("DTSTART: %w", err)
	}
	e.shown, e.zone, e.wholeDay = m.shown, m.zone, m.wholeDay
	return nil
}

// length reads DTEND or DURATION; without either a whole day lasts one day
// and anything else no time.
func (r Reader) length(raw *ics.VEvent, e *event) error {
	end, lasts := raw.GetProperty("DTEND"), raw.GetProperty("DURATION")
	var err error
	switch {
	case end != nil:
		err = r.until(end, e)
	case lasts != nil:
		e.days, e.exact, err = duration(lasts.Value)
	case e.wholeDay:
		e.days = 24 * time.Hour
	}
	if err == nil && (e.days < 0 || e.exact < 0 || e.days+e.exact > maxLength*24*time.Hour) {
		err = fmt.Errorf("it lasts less than nothing or more than %d days", maxLength)
	}
	return err
}

func (r Reader) until(p *ics.IANAProperty, e *event) error {
	m, err := r.moment(p.BaseProperty, p.Value)
	if err != nil {
		return fmt.Errorf("DTEND: %w", err)
	}
	if m.zone.String() == e.zone.String() {
		e.days = m.shown.Sub(e.shown)
	} else {
		e.exact = m.at().Sub(wall(e.shown, e.zone))
	}
	return nil
}

func (r Reader) exceptions(raw *ics.VEvent, e *event) error {
	for _, p := range raw.GetProperties("EXDATE") {
		ms, err := r.moments(p)
		if err != nil {
			return fmt.Errorf("EXDATE: %w", err)
		}
		for _, m := range ms {
			if m.wholeDay {
				e.dayOff = append(e.dayOff, m.shown)
			} else {
				e.except = append(e.except, m.at())
			}
		}
	}
	for _, p := range raw.GetProperties("RDATE") {
		ms, err := r.moments(p)
		if err != nil {
			return fmt.Errorf("RDATE: %w", err)
		}
		for _, m := range ms {
			e.extra = append(e.extra, showing(m.at(), e.zone))
		}
	}
	return nil
}

// stand reads which occurrence the event stands for.
func (r Reader) stand(raw *ics.VEvent, e *event) error {
	p := raw.GetProperty("RECURRENCE-ID")
	if p == nil {
		return nil
	}
	if len(p.ICalParameters["RANGE"]) > 0 {
		return errors.New("RECURRENCE-ID: RANGE is not understood: end the rule and begin a new event")
	}
	m, err := r.moment(p.BaseProperty, p.Value)
	if err != nil {
		return fmt.Errorf("RECURRENCE-ID: %w", err)
	}
	e.instead = m.at()
	return nil
}

// spans lists the occurrences that touch the time between two instants.
func (e event) spans(from, to time.Time) []span {
	var out []span
	for _, shown := range e.starts(showing(from, e.zone).Add(-e.days-e.exact-48*time.Hour), showing(to, e.zone).Add(48*time.Hour)) {
		s := span{e.person, wall(shown, e.zone), wall(shown.Add(e.days), e.zone).Add(e.exact)}
		if s.from.Before(to) && s.to.After(from) && !e.excepted(s.from, shown) {
			out = append(out, s)
		}
	}
	return out
}

func (e event) excepted(at, shown time.Time) bool {
	day := time.Date(shown.Year(), shown.Month(), shown.Day(), 0, 0, 0, 0, time.UTC)
	_, moment := slices.BinarySearchFunc(e.except, at, time.Time.Compare)
	_, whole := slices.BinarySearchFunc(e.dayOff, day, time.Time.Compare)
	return moment || whole
}

// starts lists when occurrences begin, as clocks show it.
func (e event) starts(from, to time.Time) []time.Time {
	all := append([]time.Time{e.shown}, e.extra...)
	if e.rule != nil {
		all = append(all, e.ruled(from, to)...)
	}
	return inOrder(all, from, to)
}

// inOrder gives the times from from to to, each once.
func inOrder(all []time.Time, from, to time.Time) []time.Time {
	all = slices.DeleteFunc(all, func(t time.Time) bool { return t.Before(from) || t.After(to) })
	slices.SortFunc(all, time.Time.Compare)
	return slices.CompactFunc(all, time.Time.Equal)
}

// ruled ends the rule at to, so that it is not followed any further.
func (e event) ruled(from, to time.Time) []time.Time {
	o := *e.rule
	if o.Until.IsZero() || o.Until.After(to) {
		o.Until = to
	}
	if o.Until.Before(o.Dtstart) {
		return nil
	}
	rule, err := rrule.NewRRule(o)
	if err != nil {
		return nil // it was made once already, when it was read
	}
	return rule.Between(from, to, true)
}
