package ingest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"heaterd/ingest/mqtt"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// Ingest is the loop; make it with New and start it with Run.
type Ingest struct {
	Signal
	opts     Options
	requests chan request
	ended    chan struct{}
	fault    atomic.Pointer[error]
	stats    counters

	work chan *batch // from the gatherer to the keeper; closed at the end
	free chan *batch // and back, empty

	// Only the gatherer, the goroutine of Run, uses what follows.
	messages  <-chan mqtt.Message // nil once closed
	budgets   *budgets
	strangers hourly // nodes that are not listed
	spoils    hourly // nodes a value of which could not be taken
	batch     *batch
	pace      pace

	// Only the keeper uses what follows.
	clock reading.Instant // of the last line
}

// request is a line from Record and where its result goes.
type request struct {
	line  record.Line
	reply chan<- result
}

type result struct {
	id  int64
	err error
}

// batch is what the next commit holds. lines of requests come after those of
// messages.
type batch struct {
	store.Batch
	acks     []func()
	requests []request
}

// batches is how many there are: one is gathered while the other is kept.
const batches = 2

func (b *batch) empty() bool { return len(b.Lines)+len(b.acks)+len(b.Quarantined) == 0 }

func (b *batch) clear() {
	clear(b.Lines)
	clear(b.acks)
	clear(b.Quarantined)
	b.Lines, b.acks, b.Quarantined = b.Lines[:0], b.acks[:0], b.Quarantined[:0]
}

// ErrEnded is returned by Record after Run has returned.
var ErrEnded = errors.New("the daemon is stopping")

// New makes the loop; it does nothing before Run.
func New(o Options) *Ingest {
	o = o.withDefaults()
	in := &Ingest{
		Signal: Signal{changed: make(chan struct{})}, opts: o,
		requests: make(chan request), ended: make(chan struct{}),
		work: make(chan *batch), free: make(chan *batch, batches),
		messages: o.Messages, budgets: newBudgets(o.Budget), batch: &batch{},
	}
	for range batches - 1 {
		in.free <- &batch{}
	}
	in.stats.refused = make([]atomic.Int64, len(reasons))
	return in
}

// Healthy gives nil while lines can be kept, else why not.
func (in *Ingest) Healthy() error {
	if p := in.fault.Load(); p != nil {
		return *p
	}
	return nil
}

// Record keeps a line of a person's and gives its id once it is durable. It
// returns the store's error when that fails; nothing is kept then.
func (in *Ingest) Record(ctx context.Context, l record.Line) (id int64, err error) {
	reply := make(chan result, 1)
	select {
	case in.requests <- request{l, reply}:
	case <-in.ended:
		return 0, ErrEnded
	case <-ctx.Done():
		return 0, fmt.Errorf("cannot record: %w", ctx.Err())
	}
	r := <-reply
	return r.id, r.err
}

// Run works until ctx ends and everything delivered is kept. It gives nil.
func (in *Ingest) Run(ctx context.Context) error {
	defer close(in.ended)
	keeping, gaveUp := context.WithCancel(context.WithoutCancel(ctx))
	var keeper sync.WaitGroup
	keeper.Go(func() { in.keepAll(ctx); gaveUp() })
	in.gatherAll(ctx)
	in.drain(keeping)
	close(in.work)
	keeper.Wait()
	return nil
}

// gatherAll fills batches from what comes, until ctx ends.
func (in *Ingest) gatherAll(ctx context.Context) {
	ticker := time.NewTicker(in.opts.Tick)
	defer ticker.Stop()
	in.tick()
	for ctx.Err() == nil {
		in.turn(ticker.C, ctx.Done())
	}
}

// drain hands over what the closing source still delivers, while it is kept.
func (in *Ingest) drain(keeping context.Context) {
	limit, cancel := context.WithTimeout(keeping, drainLimit)
	defer cancel()
	for limit.Err() == nil && (in.messages != nil || !in.batch.empty()) {
		in.turn(nil, limit.Done())
	}
	if errors.Is(limit.Err(), context.DeadlineExceeded) {
		in.opts.Logger.Warn("stopped while messages still came; the broker will send them again")
	}
}

// turn takes what waits, then the next thing that happens. A batch goes to the
// keeper as soon as that is free and nothing more waits, or is soon to come.
func (in *Ingest) turn(ticks <-chan time.Time, end <-chan struct{}) {
	room := in.gather()
	if ticks == nil && in.messages == nil && in.batch.empty() {
		return // the source closed while it was gathered: nothing is to come
	}
	messages, work, size := in.messages, in.work, len(in.batch.acks)
	if !room {
		messages = nil
	}
	if in.batch.empty() || room && in.pace.waits(size) {
		work = nil
	}
	select {
	case m, ok := <-messages:
		in.take(m, ok)
	case work <- in.batch:
		in.pace.handed(size)
		in.batch = <-in.free
	case <-in.pace.over:
		in.pace.over = nil
	case <-ticks:
		if in.gather() { // what waits is older than the tick
			in.tick()
		}
	case <-end:
	}
}

// gather takes what waits, up to a full batch; it reports whether the batch
// has room.
func (in *Ingest) gather() (room bool) {
	for len(in.batch.acks) < in.opts.Batch {
		select {
		case m, ok := <-in.messages:
			in.take(m, ok)
		default:
			return true
		}
	}
	return false
}

func (in *Ingest) take(m mqtt.Message, ok bool) {
	if !ok {
		in.messages = nil // closed: blocks from here on
		return
	}
	in.message(m)
}

func (in *Ingest) tick() { in.add(record.Line{At: reading.InstantOf(in.opts.Now())}) }

// add puts a line into the batch that is gathered.
func (in *Ingest) add(l record.Line) { in.batch.Lines = append(in.batch.Lines, l) }
