package fold

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	"github.com/fxamacker/cbor/v2"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/service"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
)

// snapshotVersion is raised whenever what is kept changes its meaning; when it
// changes its shape, layout tells. A snapshot of another kind is not read and
// the log is folded from its beginning instead.
const snapshotVersion = 3

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
	Alarms   []alarm.Alarm
}

// kept is one heater's mind. What is of fixed size is written without names:
// with them a snapshot is twice as long, and takes four times as long to read.
type kept struct {
	ID      string
	Figures []byte
	Pending []byte
	Open    []byte
	Told    []byte
	Doubts  []doubt
	Marks   []mark
	Air     []airReading
	Fitted  *fitted
	Judged  judgement
	Stops   []stop
	Recent  []shutdown.Past
	Faults  []shutdown.Fault
	Fixes   fixes
	Early   []int32
	Source  *source
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
		Plan: e.planIDs(), Heaters: make([]kept, len(e.heaters)), Alarms: e.book.All(),
	}
	for i, h := range e.heaters {
		m.Heaters[i] = h.keep()
	}
	b, err := encoding.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("cannot write the engine's snapshot: %w", err)
	}
	return b, nil
}

// Restore takes up where a snapshot left off. Heaters the configuration no
// longer has are dropped; new ones begin empty.
func (e *Engine) Restore(b []byte) error {
	var m memory
	if err := cbor.Unmarshal(b, &m); err != nil {
		return fmt.Errorf("cannot read the engine's snapshot: %w", err)
	}
	if m.Version != snapshotVersion || m.Layout != layout {
		return fmt.Errorf("cannot read the engine's snapshot: another version of the program wrote it (%d/%x, this is %d/%x)",
			m.Version, m.Layout, snapshotVersion, layout)
	}
	minds, err := m.minds()
	if err != nil {
		return fmt.Errorf("cannot read the engine's snapshot: %w", err)
	}
	e.begin, e.now, e.nextTick, e.ticks, e.behind = m.Begin, m.Now, m.NextTick, m.Ticks, m.Behind
	for _, h := range e.heaters {
		h.recall(minds, e.now)
		h.Work = h.Work.Reorder(planOf(m.Plan), e.rules.Plan)
	}
	e.seat()
	for _, s := range e.sites {
		s.order()
	}
	e.SetAlarms(m.Alarms)
	return nil
}

func (h *heater) keep() kept {
	return kept{
		ID: h.ID, Figures: plain(&h.figures), Pending: plain(h.Pending), Open: plainEach(h.Open), Told: plainEach(h.Told),
		Doubts: h.Doubts, Marks: h.Marks, Air: h.Air, Fitted: h.Fitted, Judged: h.Judged, Stops: h.Stops, Recent: h.Recent, Faults: h.Faults,
		Fixes: h.Fixes, Early: h.Early, Source: h.Source,
	}
}

// minds gives what was kept of each heater by its id.
func (m *memory) minds() (map[string]*mind, error) {
	out := make(map[string]*mind, len(m.Heaters))
	for i := range m.Heaters {
		k := &m.Heaters[i]
		a, err := k.mind()
		if err != nil {
			return nil, fmt.Errorf("heater %q: %w", k.ID, err)
		}
		out[k.ID] = a
	}
	return out, nil
}

func (k *kept) mind() (*mind, error) {
	m := &mind{
		Doubts: k.Doubts, Marks: k.Marks, Air: k.Air, Fitted: k.Fitted, Judged: k.Judged, Stops: k.Stops, Recent: k.Recent, Faults: k.Faults,
		Fixes: k.Fixes, Early: k.Early, Source: k.Source,
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

// recall takes up a heater's part of a snapshot; a heater it does not know
// begins now.
func (h *heater) recall(all map[string]*mind, now reading.Instant) {
	h.site.recent = nil
	if m := all[h.ID]; m != nil {
		h.mind = *m
		code := exposure.NewSensor(h.site.Activity).Activity // the configuration may have changed it
		h.Settled.Air.Activity, h.Live.Air.Activity = code, code
		return
	}
	h.begin(now)
}

// order gathers the endings of a site's heaters again.
func (s *site) order() {
	for _, h := range s.heaters {
		for _, e := range slices.Concat(h.Told, h.Open) {
			s.recent = append(s.recent, ending{h, e})
		}
	}
}

func (e *Engine) planIDs() []string {
	var ids []string
	for _, t := range e.rules.Plan.Tasks {
		ids = append(ids, t.ID)
	}
	return ids
}

func planOf(ids []string) service.Plan {
	var p service.Plan
	for _, id := range ids {
		p.Tasks = append(p.Tasks, service.Task{ID: id})
	}
	return p
}
