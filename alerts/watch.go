package alerts

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// Log is the log as this loop reads it.
type Log interface {
	// Lines gives up to limit lines above id after, in order.
	Lines(ctx context.Context, after int64, limit int) ([]record.Line, error)
	// LoadSnapshot gives the engine's memory as last kept; ok is false where
	// there is none.
	LoadSnapshot(ctx context.Context, name string) (cursor int64, body []byte, ok bool, err error)
	// Last gives the id of the last line, at once.
	Last() int64
	Past
}

// Ledger keeps what the lines led to.
type Ledger interface {
	// Cursor gives how far the log has been folded.
	Cursor(ctx context.Context) (int64, error)
	// LastAlarms gives the last occurrence of every alarm.
	LastAlarms(ctx context.Context) ([]alarm.Alarm, error)
	// Commit keeps the whole batch or nothing of it; committing a batch again
	// changes nothing.
	Commit(ctx context.Context, b ledger.Batch) error
}

// Growth tells when the log has grown above an id. Its only error is the
// context's.
type Growth interface {
	Await(ctx context.Context, after int64) (last int64, err error)
}

// Options are what the loop works with.
type Options struct {
	Log    Log
	Growth Growth
	Ledger Ledger
	Engine *fold.Engine
	// Plan gives the messages that a change of an alarm calls for; nil: none.
	Plan   func(alarm.Transition) []ledger.Job
	Wake   func() // called after a commit that left messages; nil: nobody
	Logger *slog.Logger
	// SnapshotEvery is the least time between snapshots of the engine; 0:
	// five minutes.
	SnapshotEvery time.Duration
}

const snapshotName = "engine"

// The pace of the loop; common practice, no source.
const (
	linesAtOnce   = 512                    // of the log, folded and committed together
	snapshotEvery = 5 * time.Minute        // so much of the log a start may have to fold again
	firstRetry    = 100 * time.Millisecond // after a failure, doubling
	lastRetry     = 5 * time.Second
)

// Watch is the loop; make it with New and start it with Run.
type Watch struct {
	o      Options
	mu     sync.Mutex  // guards the engine
	cursor int64       // last line folded; Run's only
	start  int64       // where the log ended when it was made: what comes after is of this run
	kept   time.Time   // when the last snapshot was kept; Run's only
	astray bool        // the engine has folded what was not committed; Run's only
	blank  fold.View   // of an engine that has read nothing
	known  atomic.Bool // the engine was brought to where the ledger stands; before, only Run may touch it
	ready  chan struct{}
	begun  sync.Once                                 // closes ready
	behind atomic.Int64                              // cursor, for Cursor
	saved  atomic.Int64                              // last line of the snapshot last kept
	nodes  atomic.Pointer[map[reading.NodeID]string] // the site of each that is on a heater; nil: not known yet
	faults atomic.Int64
	beat   atomic.Int64 // unix nanoseconds of the last turn of the loop
	fault  atomic.Pointer[error]
}

// New makes the loop; it does nothing before Run. What the log holds by now is the
// past: whoever writes this run's lines begins later.
func New(o Options) *Watch {
	if o.SnapshotEvery == 0 {
		o.SnapshotEvery = snapshotEvery
	}
	return &Watch{o: o, ready: make(chan struct{}), blank: o.Engine.View(), start: o.Log.Last()}
}

// Ready is closed once the log was read beyond where it ended at the start: its
// next line, a tick at the latest, says how late it is.
func (w *Watch) Ready() <-chan struct{} { return w.ready }

// Cursor is the id of the last line folded.
func (w *Watch) Cursor() int64 { return w.behind.Load() }

// Kept is the id of the last line that the engine's snapshot, as last kept,
// has seen: a start folds the lines above it again, and needs no others.
func (w *Watch) Kept() int64 { return w.saved.Load() }

// Faults counts the lines that a fault in a rule has cost.
func (w *Watch) Faults() int64 { return w.faults.Load() }

// Beat is when the loop last turned; zero before it began.
func (w *Watch) Beat() time.Time {
	if n := w.beat.Load(); n != 0 {
		return time.Unix(0, n)
	}
	return time.Time{}
}

// Healthy gives nil while what is found can be committed, else why not.
func (w *Watch) Healthy() error {
	if p := w.fault.Load(); p != nil {
		return *p
	}
	return nil
}

// View takes stock of everything known now: nothing, until what was known at
// the last stop is taken up again.
func (w *Watch) View() fold.View {
	if !w.known.Load() {
		return w.blank
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.o.Engine.View()
}

// Run follows the log until ctx ends, then keeps the engine's memory. It
// gives an error only when it cannot begin.
func (w *Watch) Run(ctx context.Context) error {
	switch err := w.resume(ctx); {
	case err != nil && ctx.Err() != nil:
		return nil // told to stop before it began; there is no memory to keep
	case err != nil:
		return fmt.Errorf("cannot take up the alarm engine: %w", err)
	}
	w.known.Store(true)
	for ctx.Err() == nil {
		w.turn(ctx)
	}
	if !w.astray {
		w.snapshot(context.WithoutCancel(ctx))
	}
	return nil
}

// turn folds what the log holds, or waits for more.
func (w *Watch) turn(ctx context.Context) {
	w.turned()
	lines, err := w.o.Log.Lines(ctx, w.cursor, linesAtOnce)
	if err != nil {
		w.failed(ctx, err)
		pause(ctx, firstRetry)
		return
	}
	w.fault.Store(nil) // a commit that fails is repeated until it does not
	if len(lines) == 0 {
		w.settled()
		_, _ = w.o.Growth.Await(ctx, w.cursor)
		return
	}
	w.commit(ctx, w.fold(lines))
	w.caughtUp()
}

// turned says that the loop goes on.
func (w *Watch) turned() { w.beat.Store(time.Now().UnixNano()) }

// caughtUp says how far the start has come: to where the log ended, and to the
// first line of this run, by which the engine knows what time it is.
func (w *Watch) caughtUp() {
	if w.cursor >= w.start {
		w.settled()
	}
	if w.cursor > w.start {
		w.begun.Do(func() { close(w.ready) })
	}
}

// settled takes down where the nodes are, once. It is not known before: a
// person may have fitted one just before the last stop.
func (w *Watch) settled() {
	if w.nodes.Load() != nil {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.noteNodes()
}

// fold steps through lines and gathers what they lead to.
func (w *Watch) fold(lines []record.Line) ledger.Batch {
	w.mu.Lock()
	defer w.mu.Unlock()
	var b ledger.Batch
	for _, l := range lines {
		w.step(l, &b)
		b.Cursor = l.ID
	}
	return b
}

// step folds one line. A rule that panics costs this line only.
func (w *Watch) step(l record.Line, b *ledger.Batch) {
	defer func() {
		if p := recover(); p != nil {
			w.faults.Add(1)
			w.o.Logger.Error("a rule failed; the line is kept, its meaning is lost", "line", l.ID, "fault", p, "stack", string(debug.Stack()))
		}
	}()
	e := w.o.Engine.Step(l)
	w.gather(e, b)
	for _, d := range e.Withdrawn {
		b.Withdrawals = append(b.Withdrawals, ledger.WithdrawalRow{Line: d.Line, Withdrawal: ledger.Withdrawal{At: l.At, By: d.By, Why: d.Why}})
	}
	if r, ok := ledger.RowOf(l); ok {
		b.Entries = append(b.Entries, r)
		if r.Entry.Node != "" && w.nodes.Load() != nil {
			w.noteNodes()
		}
	}
}

func (w *Watch) gather(e *fold.Effects, b *ledger.Batch) {
	b.Burns = append(append(b.Burns, rows(e.Judged, false)...), rows(e.Burns, true)...)
	b.Transitions = append(b.Transitions, e.Transitions...)
	for _, err := range e.Errors {
		w.o.Logger.Warn("an answer could not be carried out", "err", err)
	}
	if w.o.Plan == nil {
		return
	}
	for _, t := range e.Transitions {
		b.Jobs = append(b.Jobs, w.o.Plan(t)...)
	}
}

func rows(burns []outcome.Burn, final bool) []ledger.BurnRow {
	var out []ledger.BurnRow
	for _, b := range burns {
		out = append(out, ledger.BurnRow{Burn: b, Final: final})
	}
	return out
}

// commit keeps a batch, trying again until it is kept or ctx ends. A batch
// that changes nothing needs no commit: folding its lines again is harmless.
func (w *Watch) commit(ctx context.Context, b ledger.Batch) {
	if due := time.Since(w.kept) > w.o.SnapshotEvery; due || !empty(b) {
		w.complete(&b, due)
		if !w.persist(ctx, b) {
			w.astray = true // its memory must not be kept: what it found would never be told
			return
		}
		if due {
			w.kept = time.Now()
		}
		if b.Snapshot != nil {
			w.saved.Store(b.Cursor)
		}
	}
	w.cursor = b.Cursor
	w.behind.Store(b.Cursor)
	if len(b.Jobs) > 0 && w.o.Wake != nil {
		w.o.Wake()
	}
}

// complete adds the alarms as they are now: all that changed since the last
// commit, so that the ledger's alarms always stand at its cursor.
func (w *Watch) complete(b *ledger.Batch, snapshot bool) {
	w.mu.Lock()
	b.Alarms = w.o.Engine.Touched()
	w.mu.Unlock()
	if snapshot {
		b.Snapshot = w.take(b.Cursor)
	}
}

func empty(b ledger.Batch) bool {
	return len(b.Transitions)+len(b.Burns)+len(b.Entries)+len(b.Withdrawals)+len(b.Jobs) == 0
}

func (w *Watch) persist(ctx context.Context, b ledger.Batch) bool {
	for wait := firstRetry; ; wait = min(2*wait, lastRetry) {
		err := w.o.Ledger.Commit(context.WithoutCancel(ctx), b)
		if err == nil {
			w.fault.Store(nil)
			return true
		}
		w.failed(ctx, err)
		if !pause(ctx, wait) {
			return false
		}
	}
}

func (w *Watch) failed(ctx context.Context, err error) {
	if ctx.Err() == nil && w.fault.Swap(&err) == nil {
		w.o.Logger.Error("the alarm loop cannot use the store", "err", err)
	}
}

// pause waits; it gives false when ctx ends first.
func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// take makes a snapshot at a line; nil when that failed, which costs only
// time at the next start.
func (w *Watch) take(cursor int64) *store.Snapshot {
	w.mu.Lock()
	defer w.mu.Unlock()
	body, err := w.o.Engine.Snapshot()
	if err != nil {
		w.o.Logger.Error("the engine's memory was not kept; the next start takes longer", "err", err)
		return nil
	}
	return &store.Snapshot{Name: snapshotName, Cursor: cursor, Body: body}
}

func (w *Watch) snapshot(ctx context.Context) {
	if w.cursor == 0 {
		return
	}
	b := ledger.Batch{Cursor: w.cursor}
	w.complete(&b, true)
	if err := w.o.Ledger.Commit(ctx, b); err != nil {
		w.o.Logger.Error("the engine's memory was not kept; the next start takes longer", "err", err)
		return
	}
	if b.Snapshot != nil {
		w.saved.Store(b.Cursor)
	}
}

// Now is the time of the newest line folded.
func (w *Watch) Now() reading.Instant {
	if !w.known.Load() {
		return w.blank.At
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.o.Engine.Now()
}
