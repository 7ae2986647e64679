package notify

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// fresh is how long after the change a message is sent as it was written; later
// it says how the alarm is by then, and who was told this long before. Common
// practice, no source.
const fresh = time.Minute

var (
	errNothing   = errors.New("nothing is left to tell")
	errNoChannel = errors.New("the channel is not configured any more")
	errNotTo     = errors.New("the person, or the channel, is not configured any more")
	errGivenUp   = errors.New("given up after three days")
)

// deliver sends one claimed message and marks what came of it.
func (c *Courier) deliver(ctx context.Context, j ledger.Job) {
	m, err := ReadMessage(j.Body)
	if err != nil {
		err = c.bury(ctx, j, fmt.Errorf("cannot read the message: %w", err))
	} else {
		err = c.handle(ctx, j, m)
	}
	if err != nil {
		c.o.Logger.Error("what came of a message was not kept; it will be sent again", "job", j.ID, "err", err)
	}
}

// handle does what a message asks for. A panic is a failed attempt: it must not
// end the daemon, which would meet the same message after every start.
func (c *Courier) handle(ctx context.Context, j ledger.Job, m Message) (err error) {
	defer func() {
		if p := recover(); p != nil {
			c.o.Logger.Error("a message met a fault; it is tried again", "job", j.ID, "channel", m.Channel, "fault", p, "stack", string(debug.Stack()))
			fault := fmt.Errorf("a fault in heaterd: %v", p)
			if c.o.Senders[m.Channel] != nil {
				c.note(m.Channel, fault)
			}
			err = c.settle(ctx, j, m, fault)
		}
	}()
	switch {
	case m.Kind == Farewell:
		return c.expand(ctx, j, m)
	case !c.o.Planner.reaches(m):
		return c.redirect(ctx, j, m)
	default:
		return c.settle(ctx, j, m, c.send(ctx, j, m))
	}
}

// send completes the message and hands it over.
func (c *Courier) send(ctx context.Context, j ledger.Job, m Message) error {
	sender := c.o.Senders[m.Channel]
	if sender == nil {
		return Permanent(errNoChannel)
	}
	if why := c.refuses(m.Channel, critical(m)); why != nil {
		return why
	}
	m, err := c.complete(ctx, j, m)
	if err != nil {
		return err
	}
	if m.Kind == Digest && c.repeats(m, time.Now()) {
		return errNothing
	}
	ctx, done := context.WithTimeout(ctx, attempt)
	defer done()
	err = sender.Send(ctx, m)
	if m.Kind == Digest && err != nil {
		c.unsaid(m)
	}
	if !errors.Is(err, context.Canceled) { // cut off at the end: says nothing about the channel
		c.noted(ctx, m.Channel, err)
	}
	return err
}

// complete writes what could not be written before, and stops what is true no
// more.
func (c *Courier) complete(ctx context.Context, j ledger.Job, m Message) (Message, error) {
	now := time.Now()
	if m.Kind == Raised && m.Person != "" && (now.Sub(m.At.Time()) > fresh || byItself(m)) {
		return c.renew(ctx, j, m, reading.InstantOf(now))
	}
	if m.Kind != Digest && m.Kind != State && m.Kind != Ended && !m.ofTaking() {
		return m, nil
	}
	alarms, err := c.o.Outbox.Live(ctx)
	switch {
	case err != nil:
		return m, err
	case m.Kind == State:
		return c.o.Planner.stateOf(m, alarms), nil
	case m.ofTaking() && !stillTaken(m, alarms), m.Kind == Ended && stands(m, alarms):
		return m, errNothing
	case m.Kind == Ended || m.ofTaking():
		return m, nil
	}
	m, ok := c.o.Planner.digest(m, alarms)
	if !ok {
		return m, errNothing
	}
	return m, nil
}

// renew brings a message that is late to how things are now. Where the store
// fails it stays as it is: better old news than none.
func (c *Courier) renew(ctx context.Context, j ledger.Job, m Message, now reading.Instant) (Message, error) {
	a, ok, err := c.o.Outbox.Alarm(ctx, j.Alarm)
	if err != nil || !ok {
		return m, nil
	}
	all, _ := c.o.Outbox.JobsOf(ctx, j.Alarm) // without them it says less
	if overtaken(j, all, now) {
		return m, errNothing
	}
	if byItself(m) {
		a = gotThrough(a, now)
	}
	return c.o.Planner.refresh(m, a, c.o.Planner.earlier(j, all, now)), nil
}

// overtaken reports whether a later step that tells the same person by the same
// channel is due by now, or has told: after a stop of the daemon, or while a
// channel is down, many steps fall due, and nobody needs a copy for each. The
// last of them goes on being tried.
func overtaken(j ledger.Job, all []ledger.Job, now reading.Instant) bool {
	return slices.ContainsFunc(all, func(o ledger.Job) bool {
		claimed := o.Attempts > 0 && o.NextAttempt <= now.Add(lease)
		due := o.State == ledger.Pending && (o.NextAttempt <= now || claimed || o.Attempts > 1)
		told := o.State == ledger.Sent && (j.Attempts > 1 || now.Sub(o.DeliveredAt) < fresh)
		return o.Seq == j.Seq && o.Person == j.Person && o.Channel == j.Channel && o.Step > j.Step && (due || told)
	})
}

// settle marks what an attempt came to. Whatever the failure, the person's
// next channel takes over at once, and where none is left the next step.
func (c *Courier) settle(ctx context.Context, j ledger.Job, m Message, err error) error {
	ctx = context.WithoutCancel(ctx)
	now := time.Now()
	if err == nil {
		return c.o.Outbox.MarkSent(ctx, j.ID, reading.InstantOf(now))
	}
	if errors.Is(err, errNothing) {
		return c.o.Outbox.MarkNeedless(ctx, j.ID)
	}
	if !errors.Is(err, context.Canceled) {
		if err := c.handOver(ctx, j, m, now); err != nil {
			return err
		}
		if err := c.advance(ctx, j, m, err, now); err != nil {
			return err
		}
	}
	switch {
	case IsPermanent(err):
		return c.bury(ctx, j, err)
	case now.Sub(j.Created.Time()) > giveUp:
		return c.bury(ctx, j, fmt.Errorf("%w: %w", errGivenUp, err))
	}
	next := reading.InstantOf(now.Add(pauseAfter(j.Attempts, m, err)))
	return c.o.Outbox.MarkFailed(ctx, j.ID, reading.InstantOf(now), next, err)
}

func (c *Courier) bury(ctx context.Context, j ledger.Job, why error) error {
	return c.o.Outbox.MarkDead(context.WithoutCancel(ctx), j.ID, reading.InstantOf(time.Now()), why)
}

// handOver puts the message in the outbox for the next channel of the
// person. Its id follows from the first one's, so that every attempt that
// fails hands over the same message.
func (c *Courier) handOver(ctx context.Context, j ledger.Job, m Message, now time.Time) error {
	if len(m.Else) == 0 {
		return nil
	}
	next := j
	m.ID = jobID("else", j.ID, m.Else[0].Channel)
	m.Channel, m.Address, m.Else = m.Else[0].Channel, m.Else[0].Address, m.Else[1:]
	next.ID, next.Channel, next.Body = m.ID, m.Channel, mustJSON(m)
	next.NextAttempt = reading.InstantOf(now)
	if err := c.o.Outbox.Commit(ctx, ledger.Batch{Jobs: []ledger.Job{next}}); err != nil {
		return err
	}
	c.Wake()
	return nil
}

// redirect plans a message to somebody, or by a channel, that left the
// configuration for who is told now.
func (c *Courier) redirect(ctx context.Context, j ledger.Job, m Message) error {
	ctx = context.WithoutCancel(ctx)
	a, ok, err := c.o.Outbox.Alarm(ctx, j.Alarm)
	if err != nil {
		return err
	}
	planned, err := c.o.Outbox.JobsOf(ctx, j.Alarm)
	if err != nil {
		return err
	}
	var jobs []ledger.Job
	if ok {
		jobs = c.o.Planner.instead(j, m, a, planned, reading.InstantOf(time.Now()))
	}
	if len(jobs) > 0 {
		if err := c.o.Outbox.Commit(ctx, ledger.Batch{Jobs: jobs}); err != nil {
			return err
		}
		c.Wake()
	}
	return c.bury(ctx, j, errNotTo)
}

// expand turns the end of an alarm, or that somebody took it on or shelved it,
// into messages to those who were told of it.
func (c *Courier) expand(ctx context.Context, j ledger.Job, m Message) error {
	ctx = context.WithoutCancel(ctx)
	told, err := c.o.Outbox.JobsOf(ctx, j.Alarm)
	if err != nil {
		return err
	}
	if jobs := c.o.Planner.farewells(m, told); len(jobs) > 0 {
		if err := c.o.Outbox.Commit(ctx, ledger.Batch{Jobs: jobs}); err != nil {
			return err
		}
		c.Wake()
	}
	return c.o.Outbox.MarkSent(ctx, j.ID, reading.InstantOf(time.Now()))
}
