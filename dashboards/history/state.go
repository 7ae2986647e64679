package history

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// state is what others may ask about.
type state struct {
	cursor   int64
	seen     reading.Instant // when the line at the cursor arrived
	debt     *debt           // nil: none
	oldest   reading.Instant // arrival of the oldest line not written; 0: none
	rejected int64
	aside    []Aside
	fault    error
	told     time.Time // when the fault was last told; zero: there is none
	closed   bool
}

// Aside is a record that the server will never take. The reading itself is
// still in the log.
type Aside struct {
	Line   int64  `json:"line"` // of the log, 0: it was copied out of its hour
	Record string `json:"record"`
	Reason string `json:"reason"`
}

// Stats are how the copy keeps up.
type Stats struct {
	Up       bool          // the last write was taken
	LagRows  int64         // lines of the log that are not written
	Oldest   time.Duration // since the oldest of them arrived, 0 where none waits
	Rejected int64         // records set aside, ever
}

// Stats tells how the copy keeps up.
func (w *Writer) Stats() Stats {
	last := w.o.Log.Last()
	w.mu.Lock()
	defer w.mu.Unlock()
	s := Stats{Up: w.state.fault == nil, LagRows: max(0, last-w.state.cursor), Rejected: w.state.rejected}
	if w.state.oldest != 0 {
		s.Oldest = max(0, time.Since(w.state.oldest.Time()))
	}
	return s
}

// Cursor is the last line of the log that is written. Lines above it that are
// compacted are copied by the hour.
func (w *Writer) Cursor() int64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.state.cursor
}

// Healthy gives nil unless the set-up is wrong: a person has to see to the
// token, the bucket or the address. A server that is away is no such fault.
func (w *Writer) Healthy() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.state.closed {
		return w.state.fault
	}
	return nil
}

func (w *Writer) update(change func(*state)) {
	w.mu.Lock()
	defer w.mu.Unlock()
	change(&w.state)
	w.state.closed = w.state.closed && w.state.fault != nil
}

// setAside gives up a record. It is told once, here.
func (w *Writer) setAside(e entry, why error) {
	w.o.Logger.Error("the history server will never take this record; the reading stays in the store",
		"line", e.line, "record", e.text, "err", why)
	w.dirty = true
	w.size = min(w.ceiling, 2*w.size)
	w.update(func(s *state) {
		s.rejected++
		s.aside = append(s.aside, Aside{Line: e.line, Record: e.text, Reason: why.Error()})
		s.aside = s.aside[max(0, len(s.aside)-asideKept):]
	})
}

// refused notes that nothing was taken. A row of failures is told
// once, then once an hour.
func (w *Writer) refused(ctx context.Context, v verdict, why error) {
	if ctx.Err() != nil {
		return
	}
	w.trouble(ctx, fmt.Errorf("the history server takes nothing: %w", why))
	w.update(func(s *state) { s.closed = v == closed })
}

func (w *Writer) trouble(ctx context.Context, why error) {
	var known bool
	now := time.Now()
	w.update(func(s *state) {
		known = !s.told.IsZero() && now.Sub(s.told) < tellEvery
		if !known {
			s.told = now
		}
		s.fault = why
	})
	if !known && ctx.Err() == nil {
		w.o.Logger.Warn("the copy of the readings waits", "err", why)
	}
}

// works notes that the trouble, if there was any, is over, and tells so.
func (w *Writer) works(s *state) {
	if !s.told.IsZero() {
		w.o.Logger.Info("the copy of the readings goes on")
	}
	s.fault, s.told = nil, time.Time{}
}

// memory is what is kept besides the cursor.
type memory struct {
	Rejected int64           `json:"rejected"`
	Aside    []Aside         `json:"aside,omitempty"`
	Seen     reading.Instant `json:"seen"`
	Debt     *debt           `json:"debt,omitempty"`
}

func (w *Writer) resume(ctx context.Context) error {
	cursor, body, ok, err := w.o.Memory.LoadSnapshot(ctx, SnapshotName)
	if err != nil {
		return err
	}
	var m memory
	if ok {
		if err := json.Unmarshal(body, &m); err != nil {
			return fmt.Errorf("cannot read what was kept: %w", err)
		}
	}
	w.kept = time.Now()
	w.update(func(s *state) {
		s.cursor, s.rejected, s.aside, s.seen, s.debt = cursor, m.Rejected, m.Aside, m.Seen, m.Debt
	})
	return nil
}

func (w *Writer) keepIfDue(ctx context.Context) {
	if w.dirty && time.Since(w.kept) >= keepEvery {
		w.keep(ctx)
	}
}

// keep writes the cursor down. Where that fails, what is written meanwhile
// will be written twice, no more.
func (w *Writer) keep(ctx context.Context) {
	if !w.dirty {
		return
	}
	w.mu.Lock()
	s := w.state
	cursor, m := s.cursor, memory{s.rejected, slices.Clone(s.aside), s.seen, s.debt}
	w.mu.Unlock()
	body, err := json.Marshal(m)
	if err == nil {
		err = w.o.Memory.SaveSnapshot(ctx, SnapshotName, cursor, body)
	}
	w.kept, w.dirty = time.Now(), err != nil
	if err != nil && ctx.Err() == nil {
		w.o.Logger.Warn("the place in the history was not kept", "err", err)
	}
}
