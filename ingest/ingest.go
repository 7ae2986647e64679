package ingest

import (
	"context"
	"errors"
	"fmt"
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
	decoder  atomic.Pointer[Decoder]
	requests chan request
	ended    chan struct{}
	fault    atomic.Pointer[error]
	stats    counters

	// Only Run's goroutine uses what follows.
	messages <-chan mqtt.Message // nil once closed
	budgets  *budgets
	batch    batch
	clock    reading.Instant // of the last line
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

// ErrEnded is returned by Record after Run has returned.
var ErrEnded = errors.New("the daemon is stopping")

// New makes the loop; it does nothing before Run.
func New(o Options) *Ingest {
	o = o.withDefaults()
	in := &Ingest{opts: o, requests: make(chan request), ended: make(chan struct{}),
		messages: o.Messages, budgets: newBudgets(o.Budget)}
	in.Signal.init()
	in.stats.refused = make([]atomic.Int64, len(reasons))
	in.SetDecoder(o.Decoder)
	return in
}

// SetDecoder changes how messages are read, from the next one on.
func (in *Ingest) SetDecoder(d Decoder) { in.decoder.Store(&d) }

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
	ticker := time.NewTicker(in.opts.Tick)
	defer ticker.Stop()
	in.tick()
	in.commit(ctx)
	for ctx.Err() == nil {
		due := in.wait(ctx, ticker.C)
		if in.gather() && due { // what waits is older than the tick
			in.tick()
		}
		in.commit(ctx)
	}
	in.drain(ctx)
	return nil
}

// wait takes the first input and reports whether it was a tick.
func (in *Ingest) wait(ctx context.Context, ticks <-chan time.Time) (due bool) {
	select {
	case m, ok := <-in.messages:
		in.take(m, ok)
	case r := <-in.requests:
		in.admit(r)
	case <-ticks:
		return true
	case <-ctx.Done():
	}
	return false
}

// gather takes what waits, up to a full batch; it reports whether nothing is
// left.
func (in *Ingest) gather() (empty bool) {
	for len(in.batch.Lines) < in.opts.Batch {
		select {
		case m, ok := <-in.messages:
			in.take(m, ok)
		case r := <-in.requests:
			in.admit(r)
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

// drain keeps what the closing source still delivers.
func (in *Ingest) drain(ctx context.Context) {
	limit := time.NewTimer(drainLimit)
	defer limit.Stop()
	for in.messages != nil {
		select {
		case m, ok := <-in.messages:
			in.take(m, ok)
			in.gather()
			if !in.commit(ctx) {
				return
			}
		case <-limit.C:
			in.opts.Logger.Warn("stopped while messages still came; the broker will send them again")
			return
		}
	}
}

func (in *Ingest) tick() { in.add(record.Line{At: reading.InstantOf(in.opts.Now())}) }

func (in *Ingest) admit(r request) {
	if r.line.At == 0 {
		r.line.At = reading.InstantOf(in.opts.Now())
	}
	in.batch.requests = append(in.batch.requests, r)
}

// add puts a line into the batch, in step with the clock of the log.
func (in *Ingest) add(l record.Line) {
	l.At = in.inStep(l.At)
	in.batch.Lines = append(in.batch.Lines, l)
}

func (in *Ingest) inStep(at reading.Instant) reading.Instant {
	if at < in.clock && in.clock.Sub(at) <= clockStep {
		return in.clock
	}
	in.clock = at
	return at
}

// commit keeps the batch, trying again until it is kept or ctx has ended; it
// reports whether it was. People's lines have one attempt: where one of them is
// what the store cannot take, the rest is kept at once without them.
func (in *Ingest) commit(ctx context.Context) bool {
	messages, people := len(in.batch.Lines), len(in.batch.requests)
	for _, r := range in.batch.requests {
		in.add(r.line)
	}
	err := in.keep(ctx)
	in.answer(messages, err)
	in.batch.Lines = in.batch.Lines[:messages]
	if people > 0 && err != nil && !errors.Is(err, store.ErrUnavailable) {
		err = in.keep(ctx)
	}
	for pause := firstRetry; err != nil; pause = min(2*pause, lastRetry) {
		in.failed(err)
		if !in.sit(ctx, pause, err) {
			return false
		}
		err = in.keep(ctx)
	}
	in.acknowledge()
	return true
}

// keep makes one attempt.
func (in *Ingest) keep(ctx context.Context) error {
	if len(in.batch.Lines) == 0 && len(in.batch.Quarantined) == 0 {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), commitLimit)
	defer cancel()
	start := time.Now()
	last, err := in.opts.Log.Keep(ctx, in.batch.Batch)
	if err != nil {
		in.stats.failures.Add(1)
		return err
	}
	if in.opts.Commits != nil {
		in.opts.Commits.Observe(time.Since(start).Seconds())
	}
	in.stats.commits.Add(1)
	in.stats.lines.Add(int64(len(in.batch.Lines)))
	if in.fault.Swap(nil) != nil {
		in.opts.Logger.Info("the store works again")
	}
	in.Signal.set(last)
	return nil
}

func (in *Ingest) failed(err error) {
	if in.fault.Swap(&err) == nil { // once per outage; the metric counts the rest
		in.opts.Logger.Error("cannot keep readings; nothing is acknowledged until it works again", "err", err)
	}
}

// answer tells those who wait in Record, whose lines follow the first n.
func (in *Ingest) answer(n int, err error) {
	for i, r := range in.batch.requests {
		if err != nil {
			r.reply <- result{err: err}
			continue
		}
		r.reply <- result{id: in.batch.Lines[n+i].ID}
	}
	clear(in.batch.requests)
	in.batch.requests = in.batch.requests[:0]
}

// sit waits before another attempt, turning people away meanwhile; it gives
// false when ctx ends: what is not kept is not acknowledged and comes again.
func (in *Ingest) sit(ctx context.Context, pause time.Duration, err error) bool {
	t := time.NewTimer(pause)
	defer t.Stop()
	for {
		select {
		case <-t.C:
			return true
		case r := <-in.requests:
			r.reply <- result{err: err}
		case <-ctx.Done():
			return false
		}
	}
}

// acknowledge tells the broker, in the order of arrival and with no
// transaction open, and empties the batch.
func (in *Ingest) acknowledge() {
	for _, ack := range in.batch.acks {
		ack()
	}
	clear(in.batch.Lines)
	clear(in.batch.acks)
	clear(in.batch.Quarantined)
	in.batch.Lines, in.batch.acks, in.batch.Quarantined = in.batch.Lines[:0], in.batch.acks[:0], in.batch.Quarantined[:0]
}
