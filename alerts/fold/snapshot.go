package fold

import (
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/fxamacker/cbor/v2"

	"heaterd/alerts/alarm"
	"heaterd/alerts/service"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// snapshotVersion is raised whenever what is kept changes its meaning; when it
// changes its shape, layout tells. A snapshot of another kind is not read and
// the log is folded from its beginning instead.
const snapshotVersion = 5

// rememberAway is how long a heater that left the configuration is remembered,
// for when it comes back: from one season into the one after the next. Common
// practice, no source.
const rememberAway = 2 * 365 * 24 * time.Hour

// memory is everything an engine knows that its configuration does not say.
type memory struct {
	Version  int
	Layout   uint64
	Begin    reading.Instant
	Now      reading.Instant
	NextTick reading.Instant
	Ticks    int64
	Behind   int
	Plan     []string // task ids, in the order of the books
	Heaters  []kept
	Courses  []keptCourse
	Alarms   []alarm.Alarm
}

// kept is one heater's mind. What is of fixed size is written without names:
// with them a snapshot is twice as long, and takes four times as long to read.
type kept struct {
	ID      string
	Place   whereabouts
	Left    reading.Instant // when it left the configuration; 0 not
	Figures []byte
	Pending []byte
	Open    []byte
	Told    []byte
	Doubts  []doubt
	Marks   []mark
	Air     []airReading
	Fitted  *fitted
	Before  earlier
	Judged  judgement
	Stops   []stop
	Recent  []shutdown.Past
	Faults  []shutdown.Fault
	Fixes   fixes
	Early   []int32
	Source  *source
	Shelf   shelf
	Journal journal
	Losses  losses
	Holes   holes
}

// remembered is a heater's mind as it comes out of a snapshot.
type remembered struct {
	*mind
	id    string
	place whereabouts
	left  reading.Instant
}

var encoding = must(cbor.EncOptions{Sort: cbor.SortCoreDeterministic, Time: cbor.TimeUnixMicro}.EncMode())

func must[T any](v T, err error) T {
	if err != nil {
		panic("BUG: " + err.Error())
	}
	return v
}

// Snapshot writes down everything the engine knows.
func (e *Engine) Snapshot() ([]byte, error) {
	m := memory{
		Version: snapshotVersion, Layout: layout, Begin: e.begin, Now: e.now, NextTick: e.nextTick, Ticks: e.ticks, Behind: e.behind,
		Plan: e.planIDs(), Heaters: make([]kept, len(e.heaters)), Courses: e.keepCourses(), Alarms: e.book.All(),
	}
	for i, h := range e.heaters {
		m.Heaters[i] = remembered{&h.mind, h.ID, h.whereabouts(), 0}.keep()
	}
	for _, r := range e.away {
		m.Heaters = append(m.Heaters, r.keep())
	}
	b, err := encoding.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("cannot write the engine's snapshot: %w", err)
	}
	return b, nil
}

// Restore takes up where a snapshot left off. New heaters begin empty; those
// that the configuration no longer has are remembered for a while.
func (e *Engine) Restore(b []byte) error {
	var m memory
	if err := cbor.Unmarshal(b, &m); err != nil {
		return fmt.Errorf("cannot read the engine's snapshot: %w", err)
	}
	if m.Version != snapshotVersion || m.Layout != layout {
		return fmt.Errorf("cannot read the engine's snapshot: another version of the program wrote it (%d/%x, this is %d/%x)",
			m.Version, m.Layout, snapshotVersion, layout)
	}
	minds, err := m.minds(e.rules.Plan)
	if err != nil {
		return fmt.Errorf("cannot read the engine's snapshot: %w", err)
	}
	e.begin, e.now, e.nextTick, e.ticks, e.behind = m.Begin, m.Now, m.NextTick, m.Ticks, m.Behind
	for _, s := range e.sites {
		s.recent = nil
	}
	for _, h := range e.heaters {
		if r, ok := minds[h.ID]; ok {
			h.recall(r, e.now)
		} else {
			h.begin(e.now)
		}
	}
	e.seat()
	e.remember(minds)
	e.takeUnits(minds)
	if err := e.takeCourses(m.Courses); err != nil {
		return fmt.Errorf("cannot read the engine's snapshot: %w", err)
	}
	for _, s := range e.sites {
		s.order()
	}
	e.SetAlarms(m.Alarms)
	return nil
}

// remember keeps the minds of those heaters that the configuration does not
// have, in an order that does not depend on chance.
func (e *Engine) remember(minds map[string]remembered) {
	e.away = nil
	for _, id := range slices.Sorted(maps.Keys(minds)) {
		r := minds[id]
		if e.byID[id] != nil {
			continue
		}
		if r.left == 0 {
			r.left = e.now
			r.Before = r.Before.add(r.place.Node, &r.figures, e.now, e.rules.keptMost())
		}
		if e.now.Sub(r.left) < rememberAway {
			e.away = append(e.away, r)
		}
	}
}

// Away lists the heaters that left the configuration and are remembered.
func (e *Engine) Away() []string {
	var ids []string
	for _, r := range e.away {
		ids = append(ids, r.id)
	}
	return ids
}

func (r remembered) keep() kept {
	return kept{
		ID: r.id, Place: r.place, Left: r.left,
		Figures: plain(&r.figures), Pending: plain(r.Pending), Open: plainEach(r.Open), Told: plainEach(r.Told),
		Doubts: r.Doubts, Marks: r.Marks, Air: r.Air, Fitted: r.Fitted, Before: r.Before, Judged: r.Judged, Stops: r.Stops, Recent: r.Recent, Faults: r.Faults,
		Fixes: r.Fixes, Early: r.Early, Source: r.Source, Shelf: r.Shelf, Journal: r.Journal, Losses: r.Losses, Holes: r.Holes,
	}
}

// minds gives what was kept of each heater by its id, its book in the order of
// a plan.
func (m *memory) minds(p service.Plan) (map[string]remembered, error) {
	out, was := make(map[string]remembered, len(m.Heaters)), planOf(m.Plan)
	for i := range m.Heaters {
		k := &m.Heaters[i]
		a, err := k.mind()
		if err != nil {
			return nil, fmt.Errorf("heater %q: %w", k.ID, err)
		}
		a.replan(was, p)
		out[k.ID] = remembered{a, k.ID, k.Place, k.Left}
	}
	return out, nil
}

func (k *kept) mind() (*mind, error) {
	m := &mind{
		Doubts: k.Doubts, Marks: k.Marks, Air: k.Air, Fitted: k.Fitted, Before: k.Before, Judged: k.Judged, Stops: k.Stops, Recent: k.Recent, Faults: k.Faults,
		Fixes: k.Fixes, Early: k.Early, Source: k.Source, Shelf: k.Shelf, Journal: k.Journal, Losses: k.Losses, Holes: k.Holes,
	}
	return m, errors.Join(takeUp(k.Figures, &m.figures), takeUpAll(k.Pending, &m.Pending), takeUpEach(k.Open, &m.Open), takeUpEach(k.Told, &m.Told))
}

// plain writes down a value of fixed size, or a slice of such.
func plain(v any) []byte { return must(binary.Append(nil, binary.LittleEndian, v)) }

func plainEach[T any](all []*T) []byte {
	var b []byte
	for _, v := range all {
		b = must(binary.Append(b, binary.LittleEndian, v))
	}
	return b
}

// takeUp reads what plain wrote.
func takeUp(b []byte, v any) error {
	n, err := binary.Decode(b, binary.LittleEndian, v)
	if err == nil && n != len(b) {
		err = fmt.Errorf("%d octets are left over", len(b)-n)
	}
	return err
}

func takeUpAll[T any](b []byte, all *[]T) error {
	var one T
	*all = make([]T, len(b)/binary.Size(&one))
	return takeUp(b, *all)
}

func takeUpEach[T any](b []byte, all *[]*T) error {
	var values []T
	if err := takeUpAll(b, &values); err != nil {
		return err
	}
	for i := range values {
		*all = append(*all, &values[i])
	}
	return nil
}
