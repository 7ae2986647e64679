package ingest

import (
	"context"
	"errors"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// keepAll keeps batches and people's lines in the order they come until there
// will be no more, or the store fails at the end.
func (in *Ingest) keepAll(ctx context.Context) {
	own := &batch{} // for people's lines when no message waits
	for {
		b := own
		select {
		case gathered, ok := <-in.work:
			if !ok {
				return
			}
			b = gathered
		case r := <-in.requests:
			b.requests = append(b.requests, r)
		}
		in.admitWaiting(b)
		if !in.commit(ctx, b) {
			return
		}
		if b != own {
			in.free <- b
		}
	}
}

func (in *Ingest) admitWaiting(b *batch) {
	for {
		select {
		case r := <-in.requests:
			b.requests = append(b.requests, r)
		default:
			return
		}
	}
}

// commit keeps a batch, trying again until it is kept or ctx has ended; it
// reports whether it was. People's lines have one attempt: where one of them is
// what the store cannot take, the rest is kept at once without them.
func (in *Ingest) commit(ctx context.Context, b *batch) bool {
	messages, people := len(b.Lines), len(b.requests)
	in.stamp(b)
	err := in.keep(ctx, b)
	b.answer(messages, err)
	b.Lines = b.Lines[:messages]
	if people > 0 && err != nil && !errors.Is(err, store.ErrUnavailable) {
		err = in.keep(ctx, b)
	}
	for pause := firstRetry; err != nil && !b.empty(); pause = min(2*pause, lastRetry) {
		in.failed(err)
		if !in.sit(ctx, pause, err) {
			return false
		}
		err = in.keep(ctx, b)
	}
	if err != nil { // only people waited, and they know
		in.failed(err)
	}
	b.acknowledge()
	return true
}

// stamp adds people's lines to a batch and puts it in step with the clock of
// the log.
func (in *Ingest) stamp(b *batch) {
	for _, r := range b.requests {
		if r.line.At == 0 {
			r.line.At = reading.InstantOf(in.opts.Now())
		}
		b.Lines = append(b.Lines, r.line)
	}
	for i := range b.Lines {
		b.Lines[i].At = in.inStep(b.Lines[i].At)
	}
}

func (in *Ingest) inStep(at reading.Instant) reading.Instant {
	if at < in.clock && in.clock.Sub(at) <= clockStep {
		return in.clock
	}
	in.clock = at
	return at
}

// keep makes one attempt.
func (in *Ingest) keep(ctx context.Context, b *batch) error {
	if len(b.Lines)+len(b.Quarantined) == 0 {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), commitLimit)
	defer cancel()
	start := time.Now()
	last, err := in.opts.Log.Keep(ctx, b.Batch)
	if err != nil {
		in.stats.failures.Add(1)
		return err
	}
	if in.opts.Commits != nil {
		in.opts.Commits.Observe(time.Since(start).Seconds())
	}
	in.stats.commits.Add(1)
	in.stats.lines.Add(int64(len(b.Lines)))
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
func (b *batch) answer(n int, err error) {
	for i, r := range b.requests {
		if err != nil {
			r.reply <- result{err: err}
			continue
		}
		r.reply <- result{id: b.Lines[n+i].ID}
	}
	clear(b.requests)
	b.requests = b.requests[:0]
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
func (b *batch) acknowledge() {
	for _, ack := range b.acks {
		ack()
	}
	b.clear()
}
