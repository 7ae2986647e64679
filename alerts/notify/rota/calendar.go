package rota

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
)

// What a calendar may hold at most. Common practice, no source: a rota of ten
// people that is planned day by day for ten years fits.
const (
	maxBytes  = 1 << 20
	maxEvents = 5000
	maxDates  = 10_000 // RDATE and EXDATE, of all events together
	maxLength = 400    // days of one event
	firstYear = 1970
	lastYear  = 2200
)

// Person is somebody whom events may name.
type Person struct {
	ID, Name string
	Address  string // of an attendee
}

// Reader says how to read a calendar.
type Reader struct {
	Zone   *time.Location // of whole days and times without a zone; nil: UTC
	People []Person
	// Lookup finds a zone by its name in the IANA database: time.LoadLocation.
	Lookup func(name string) (*time.Location, error)
}

// Calendar is a rota read from iCalendar (RFC 5545).
type Calendar struct {
	events    []event
	strangers []string
}

// Strangers lists the summaries of events that name nobody known, in order,
// each once.
func (c *Calendar) Strangers() []string { return c.strangers }

// span is one occurrence of an event.
type span struct {
	person   string
	from, to time.Time
}

// Read reads a calendar. Its errors name the event by its UID.
func (r Reader) Read(body []byte) (*Calendar, error) {
	if len(body) > maxBytes {
		return nil, fmt.Errorf("cannot read the calendar: it has %d bytes, at most %d are read", len(body), maxBytes)
	}
	if err := bounded(body); err != nil {
		return nil, err
	}
	parsed, err := ics.ParseCalendar(bytes.NewReader(body))
	if err != nil {
		return nil, fmt.Errorf("cannot read the calendar: %w", err)
	}
	r.Zone = cmp.Or(r.Zone, time.UTC)
	events := parsed.Events()
	if len(events) > maxEvents {
		return nil, fmt.Errorf("cannot read the calendar: it has %d events, at most %d are read", len(events), maxEvents)
	}
	return r.take(events)
}

func (r Reader) take(events []*ics.VEvent) (*Calendar, error) {
	var all []event
	dates := 0
	for _, raw := range events {
		e, err := r.event(raw)
		if err != nil {
			return nil, fmt.Errorf("cannot read event %q: %w", text(raw, "UID"), err)
		}
		all = append(all, e)
		if dates += len(e.extra) + len(e.except) + len(e.dayOff); dates > maxDates {
			return nil, fmt.Errorf("cannot read event %q: with its dates there are more than %d of RDATE and EXDATE", text(raw, "UID"), maxDates)
		}
	}
	c := &Calendar{events: settle(all)}
	c.strangers = strangers(c.events)
	return c, nil
}

// settle keeps the newest word on every event, and takes from those that
// repeat the occurrences that another event stands for.
func settle(all []event) []event {
	slices.SortStableFunc(all, func(a, b event) int {
		return cmp.Or(strings.Compare(a.uid, b.uid), a.instead.Compare(b.instead), cmp.Compare(b.sequence, a.sequence))
	})
	all = slices.CompactFunc(all, func(a, b event) bool {
		return a.uid != "" && a.uid == b.uid && a.instead.Equal(b.instead)
	})
	moved, ended := map[string][]time.Time{}, map[string]bool{}
	for _, e := range all {
		if e.uid != "" && !e.instead.IsZero() {
			moved[e.uid] = append(moved[e.uid], e.instead)
		} else if e.uid != "" && e.cancelled {
			ended[e.uid] = true
		}
	}
	for i, e := range all {
		if e.instead.IsZero() {
			all[i].except = append(e.except, moved[e.uid]...)
		}
		slices.SortFunc(all[i].except, time.Time.Compare)
		slices.SortFunc(all[i].dayOff, time.Time.Compare)
	}
	return slices.DeleteFunc(all, func(e event) bool { return e.cancelled || ended[e.uid] })
}

func strangers(events []event) []string {
	var out []string
	for _, e := range events {
		if e.person == "" && !slices.Contains(out, e.summary) {
			out = append(out, e.summary)
		}
	}
	return out
}

// spans lists the occurrences that touch the time between two instants, by
// when they begin.
func (c *Calendar) spans(from, to time.Time) []span {
	var out []span
	for _, e := range c.events {
		if e.person != "" {
			out = append(out, e.spans(from, to)...)
		}
	}
	slices.SortStableFunc(out, func(a, b span) int { return a.from.Compare(b.from) })
	return out
}

// who finds the person an event names.
func (r Reader) who(raw *ics.VEvent) string {
	summary := strings.TrimSpace(text(raw, "SUMMARY"))
	for _, p := range r.People {
		if strings.EqualFold(summary, p.ID) || p.Name != "" && strings.EqualFold(summary, p.Name) {
			return p.ID
		}
	}
	for _, a := range raw.GetProperties("ATTENDEE") {
		for _, p := range r.People {
			if p.Address != "" && strings.EqualFold(address(a.Value), p.Address) {
				return p.ID
			}
		}
	}
	return ""
}

func address(value string) string {
	if len(value) > 7 && strings.EqualFold(value[:7], "mailto:") {
		return value[7:]
	}
	return value
}

func text(raw *ics.VEvent, property ics.ComponentProperty) string {
	if p := raw.GetProperty(property); p != nil {
		return ics.FromText(p.Value)
	}
	return ""
}

var errNoStart = errors.New("it does not say when it begins")
