package notify

import (
	"context"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
)

// Sender hands messages over on one channel, from any number of goroutines.
// A nil error means that the receiver has it. Errors are made with Permanent
// or RetryAfter or hold ErrGone; any other is worth another attempt.
type Sender interface {
	Send(ctx context.Context, m Message) error
}

// Outbox is where messages wait: a *ledger.Ledger.
type Outbox interface {
	Claim(ctx context.Context, now reading.Instant, lease time.Duration, limit int) ([]ledger.Job, error)
	MarkSent(ctx context.Context, id string, at reading.Instant) error
	MarkFailed(ctx context.Context, id string, at, next reading.Instant, cause error) error
	MarkDead(ctx context.Context, id string, at reading.Instant, cause error) error
	MarkNeedless(ctx context.Context, id string) error
	Retry(ctx context.Context, channel string, now, beyond reading.Instant) error
	BringForward(ctx context.Context, id string, now reading.Instant) error
	NextDue(ctx context.Context) (at reading.Instant, ok bool, err error)
	JobsOf(ctx context.Context, alarm string) ([]ledger.Job, error)
	Live(ctx context.Context) ([]alarm.Alarm, error)
	Alarm(ctx context.Context, id string) (a alarm.Alarm, ok bool, err error)
	Commit(ctx context.Context, b ledger.Batch) error
}

// Options are what the Courier works with.
type Options struct {
	Planner *Planner
	Outbox  Outbox
	Senders map[string]Sender // by channel id
	// Down is told when a channel stops working and when it works again, and
	// once that it works after the start. It must return soon and not call
	// back; nil: nobody.
	Down   func(channel string, down bool, why string)
	Logger *slog.Logger
}

// Figures of the loop: common practice, no source.
const (
	attempt      = 20 * time.Second // longest one attempt to send may take
	lease        = time.Minute      // a message is sent again this long after the process died with it
	claimed      = 64               // messages claimed at a time
	together     = 4                // messages on their way on one channel at a time
	longest      = 256              // messages waiting for one channel in memory
	partingGrace = 5 * time.Second  // what is on its way at the end gets this long
	lookAgain    = time.Minute      // the outbox is looked at this often whatever it says, for when clocks are set
	mend         = time.Second      // pause after the outbox failed
)

// Courier is the loop that empties the outbox; make it with NewCourier and
// start it with Run.
type Courier struct {
	o     Options
	wake  chan struct{}
	done  chan *line // a message on a line was dealt with
	lines map[string]*line
	busy  int
	beat  atomic.Int64          // unix nanoseconds of the last turn of the loop
	fault atomic.Pointer[error] // why the outbox cannot be used

	mu    sync.Mutex // guards pulse and said
	pulse map[string]*pulse
	said  map[string]morning // by person: the last morning message
}

// NewCourier makes the loop; it does nothing before Run.
func NewCourier(o Options) *Courier {
	return &Courier{
		o: o, wake: make(chan struct{}, 1), done: make(chan *line),
		lines: map[string]*line{}, pulse: map[string]*pulse{}, said: map[string]morning{},
	}
}

// Wake says that there may be something new to send.
func (c *Courier) Wake() {
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// Beat is when the loop last turned, at least once a minute; zero before it
// began.
func (c *Courier) Beat() time.Time {
	if n := c.beat.Load(); n != 0 {
		return time.Unix(0, n)
	}
	return time.Time{}
}

// Healthy gives nil while the outbox can be used, else why not.
func (c *Courier) Healthy() error {
	if p := c.fault.Load(); p != nil {
		return *p
	}
	return nil
}

// Run sends what is due until ctx ends, then gives what is on its way a few
// seconds. It always gives nil.
func (c *Courier) Run(ctx context.Context) error {
	sending, cut := context.WithCancel(context.WithoutCancel(ctx))
	defer cut()
	for ctx.Err() == nil {
		c.beat.Store(time.Now().UnixNano())
		err := c.claim(ctx)
		c.dispatch(sending)
		c.pause(ctx, c.next(ctx, err))
	}
	c.drain(cut)
	return nil
}

// claim takes over what is due.
func (c *Courier) claim(ctx context.Context) error {
	for {
		now := time.Now()
		jobs, err := c.o.Outbox.Claim(ctx, reading.InstantOf(now), lease, claimed)
		if err != nil {
			return err
		}
		for _, j := range jobs {
			c.line(j.Channel).add(waiting{job: j, until: now.Add(lease)})
		}
		if len(jobs) < claimed {
			return nil
		}
	}
}

// next says how long to wait for more, after a claim that ended with err.
func (c *Courier) next(ctx context.Context, err error) time.Duration {
	if err != nil {
		return c.mend(ctx, err)
	}
	at, ok, err := c.o.Outbox.NextDue(ctx)
	switch {
	case err != nil:
		return c.mend(ctx, err)
	case c.fault.Swap(nil) != nil:
		c.o.Logger.Info("the outbox can be used again")
	}
	if !ok {
		return lookAgain
	}
	// The outbox counts whole microseconds, rounded down: a moment later it
	// is certainly due.
	return min(max(time.Until(at.Time())+time.Microsecond, 0), lookAgain)
}

func (c *Courier) mend(ctx context.Context, err error) time.Duration {
	if ctx.Err() == nil && c.fault.Swap(&err) == nil {
		c.o.Logger.Error("messages wait: the outbox cannot be used", "err", err)
	}
	return mend
}

func (c *Courier) line(channel string) *line {
	l := c.lines[channel]
	if l == nil {
		l = &line{room: c.room(channel)}
		c.lines[channel] = l
	}
	return l
}

// room is how many messages may be on their way at a time. States go one by
// one: an older one must not overtake a newer.
func (c *Courier) room(channel string) int {
	if ch, ok := c.o.Planner.channel(channel); ok && ch.Kind == MQTT {
		return 1
	}
	return together
}

// dispatch starts what has waited and for which its channel has room.
func (c *Courier) dispatch(ctx context.Context) {
	for _, l := range c.lines {
		for l.busy < l.room {
			j, ok := l.take(time.Now())
			if !ok {
				break
			}
			l.busy++
			c.busy++
			go func() {
				c.deliver(ctx, j)
				c.done <- l
			}()
		}
	}
}

func (c *Courier) pause(ctx context.Context, d time.Duration) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case l := <-c.done:
		c.free(l)
	case <-c.wake:
	case <-timer.C:
	case <-ctx.Done():
	}
}

func (c *Courier) free(l *line) {
	l.busy--
	c.busy--
}

func (c *Courier) drain(cut context.CancelFunc) {
	timer := time.AfterFunc(partingGrace, cut)
	defer timer.Stop()
	for c.busy > 0 {
		c.free(<-c.done)
	}
}
