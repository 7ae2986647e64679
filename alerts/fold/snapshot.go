package fold

import (
	"fmt"
	"slices"

	"github.com/fxamacker/cbor/v2"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
)

// snapshotVersion is raised whenever the layout of what is kept changes; a
// snapshot of another version is not read and the log is folded from its
// beginning instead.
const snapshotVersion = 2

// memory is everything an engine knows that its configuration does not say.
type memory struct {
	Version  int
	Begin    reading.Instant
	Now      reading.Instant
	NextTick reading.Instant
	Ticks    int64
	Behind   int
	Plan     []string // task ids, in the order of the books
	Heaters  map[string]*mind
	Alarms   []alarm.Alarm
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
		Version: snapshotVersion, Begin: e.begin, Now: e.now, NextTick: e.nextTick, Ticks: e.ticks, Behind: e.behind,
		Plan: e.planIDs(), Heaters: make(map[string]*mind, len(e.heaters)), Alarms: e.book.All(),
	}
	for _, h := range e.heaters {
		m.Heaters[h.ID] = &h.mind
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
	if m.Version != snapshotVersion {
		return fmt.Errorf("cannot read the engine's snapshot: it has version %d, this program reads %d", m.Version, snapshotVersion)
	}
	e.begin, e.now, e.nextTick, e.ticks, e.behind = m.Begin, m.Now, m.NextTick, m.Ticks, m.Behind
	for _, h := range e.heaters {
		h.recall(m.Heaters, e.now)
		h.Work = h.Work.Reorder(planOf(m.Plan), e.rules.Plan)
	}
	e.seat()
	for _, s := range e.sites {
		s.order()
	}
	e.SetAlarms(m.Alarms)
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
