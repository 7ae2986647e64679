package history

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"heaterd/ingest/record"
)

// taker takes records for good or says why not.
type taker interface {
	WriteRecord(ctx context.Context, line ...string) error
}

// Writer copies the log; make it with New and start it with Run.
type Writer struct {
	o      Options
	server taker
	close  func()

	size    int // of the next write, records
	ceiling int // that the server has taken so far
	places  Places
	found   time.Time // when places were
	kept    time.Time
	dirty   bool // there is something to keep

	mu    sync.Mutex // guards state
	state state
}

// New makes a writer; nothing is read or sent before Run.
func New(o Options) *Writer {
	w := &Writer{o: o.withDefaults(), size: mostRecords, ceiling: mostRecords}
	w.server, w.close = connect(&w.o)
	return w
}

// Run copies until ctx ends, then keeps the cursor. It gives an error only
// when it cannot begin.
func (w *Writer) Run(ctx context.Context) error {
	defer w.close()
	switch err := w.resume(ctx); {
	case err != nil && ctx.Err() != nil:
		return nil // told to stop before it began
	case err != nil:
		return fmt.Errorf("cannot take up the history: %w", err)
	}
	for ctx.Err() == nil {
		w.turn(ctx)
	}
	w.keep(context.WithoutCancel(ctx))
	return nil
}

// turn copies what the log holds next, or waits for more. Whether lines are
// gone is asked after they were read: they may go in between.
func (w *Writer) turn(ctx context.Context) {
	lines, err := w.o.Log.Lines(ctx, w.Cursor(), linesAtOnce)
	var gone int64
	if err == nil {
		gone, err = w.o.Log.Compacted(ctx)
	}
	if err == nil {
		err = w.findPlaces(ctx, lines)
	}
	behind := err == nil && gone > w.Cursor()
	if behind {
		err = w.copyHour(ctx, gone)
	}
	switch {
	case err != nil:
		w.trouble(ctx, fmt.Errorf("cannot read the log: %w", err))
		pause(ctx, lookEvery)
	case behind:
	case len(lines) == 0:
		w.update(func(s *state) { s.oldest = 0 })
		w.keepIfDue(ctx)
		pause(ctx, lookEvery)
	default:
		w.update(func(s *state) { s.oldest = lines[0].At })
		w.copy(ctx, lines)
	}
}

// copy writes lines, moving the cursor whenever a full batch was taken. How
// much waits in memory is bounded by one batch and one pack.
func (w *Writer) copy(ctx context.Context, lines []record.Line) {
	var waiting []entry
	for i, l := range lines {
		waiting = append(waiting, entries(l, w.places)...)
		if len(waiting) < mostRecords && i < len(lines)-1 {
			continue
		}
		if !w.send(ctx, waiting) {
			return
		}
		waiting = waiting[:0]
		w.update(func(s *state) { s.cursor, s.seen = l.ID, l.At })
		w.dirty = true
		w.keepIfDue(ctx)
	}
}

// send writes records until all are taken or set aside; it gives false when
// ctx ends first.
func (w *Writer) send(ctx context.Context, waiting []entry) bool {
	retry := firstRetry
	for len(waiting) > 0 && ctx.Err() == nil {
		batch := waiting[:min(len(waiting), w.size)]
		err := w.server.WriteRecord(ctx, texts(batch)...)
		v, wait := judge(err, time.Now())
		switch {
		case v == taken:
			w.took()
			waiting, retry = waiting[len(batch):], firstRetry
		case v == smaller && len(batch) > 1:
			w.ceiling = len(batch) / 2
			w.size = w.ceiling
		case v == poison && len(batch) > 1:
			w.size = len(batch) / 2
		case v == poison, v == smaller:
			w.setAside(batch[0], err)
			waiting = waiting[1:]
		default:
			w.refused(ctx, v, err)
			pause(ctx, patience(v, retry, wait))
			retry = min(2*retry, lastRetry)
		}
	}
	return ctx.Err() == nil
}

// took notes a success and dares a little more.
func (w *Writer) took() {
	w.ceiling = min(mostRecords, w.ceiling+w.ceiling/16+1)
	w.size = min(w.ceiling, 2*w.size)
	w.update(w.works)
}

// patience gives how long to wait: what the server asked for, or else between
// half of retry and all of it, so that many daemons do not come back at once.
func patience(v verdict, retry, asked time.Duration) time.Duration {
	if v == closed {
		retry = lastRetry
	}
	jittered := retry/2 + rand.N(retry/2+1)
	return max(jittered, min(asked, longestWait))
}

func texts(list []entry) []string {
	out := make([]string, len(list))
	for i := range list {
		out[i] = list[i].text
	}
	return out
}

// pause waits; it ends early with ctx.
func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
