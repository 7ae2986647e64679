package mqtt

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"heaterd/ingest/reading"
)

// defaultQueue is how many messages wait for the consumer. It must exceed the
// broker's window of unacknowledged messages: 1000 in the broker configuration
// shipped with heaterd, 1024 in the embedded broker.
const defaultQueue = 4096

// drainLimit is how long Run waits at its end for acknowledgements.
const drainLimit = 5 * time.Second

// Options configure a Subscriber.
type Options struct {
	Link
	Filters []string               // topic filters to receive
	Before  []string               // filters of the last run; those no longer in Filters are unsubscribed
	Queue   int                    // messages; 0: defaultQueue
	Passing bool                   // the broker keeps nothing for it while it is away, nor from the time before
	Now     func() reading.Instant // stamps arrival; nil: the system's clock
}

// Subscriber receives messages; make it with New and start it with Run.
type Subscriber struct {
	opts     Options
	messages chan Message
	ready    chan struct{}
	begun    sync.Once
	ended    sync.Once
	stopping chan struct{}
	unacked  sync.WaitGroup

	accept  sync.RWMutex // held for reading while a message is handed over
	stopped bool

	patience time.Duration // how long nothing may come before the broker answers

	connected atomic.Bool
	dropped   atomic.Int64
	handed    atomic.Int64 // messages handed over
	told      atomic.Int64 // when messages that were dropped were last told of, µs
	fault     atomic.Pointer[error]
}

// New makes a Subscriber; it does nothing before Run.
func New(o Options) *Subscriber {
	o.Queue = cmp.Or(o.Queue, defaultQueue)
	if o.Now == nil {
		o.Now = func() reading.Instant { return reading.InstantOf(time.Now()) }
	}
	return &Subscriber{
		opts: o, messages: make(chan Message, o.Queue),
		ready: make(chan struct{}), stopping: make(chan struct{}), patience: connectTimeout,
	}
}

// Messages is closed when Run ends.
func (s *Subscriber) Messages() <-chan Message { return s.messages }

// Ready is closed once the first connection has subscribed.
func (s *Subscriber) Ready() <-chan struct{} { return s.ready }

// Connected reports whether a connection is up and subscribed.
func (s *Subscriber) Connected() bool { return s.connected.Load() }

// Dropped counts the QoS 0 messages that found the queue full.
func (s *Subscriber) Dropped() int64 { return s.dropped.Load() }

// Healthy gives nil while connected, else why not; a filter that the broker
// refuses is told here too.
func (s *Subscriber) Healthy() error {
	if p := s.fault.Load(); p != nil {
		return *p
	}
	if !s.Connected() {
		return errNotConnected
	}
	return nil
}

var errNotConnected = errors.New("not connected to the broker")

// Run keeps a connection up until ctx ends, then drains and gives nil. Its
// only error is a useless address.
func (s *Subscriber) Run(ctx context.Context) error {
	if err := s.opts.Check(); err != nil {
		s.stop()
		return err
	}
	var pause backoff
	for ctx.Err() == nil {
		start := time.Now()
		err := s.serve(ctx)
		if ctx.Err() != nil {
			break
		}
		s.fault.Store(&err)
		s.opts.Log.Warn("the broker is not connected; it is tried again", "broker", redact(s.opts.URL), "err", err)
		if time.Since(start) > settled {
			pause = backoff{}
		}
		pause.wait(ctx)
	}
	s.stop()
	return nil
}

// serve lives through one connection.
func (s *Subscriber) serve(ctx context.Context) error {
	c, err := s.opts.connect(ctx, s.opts.Passing, s.receive)
	if err != nil {
		return err
	}
	defer s.connected.Store(false)
	if c.wire != nil {
		go c.wire.keepFlushing(c.lost)
	}
	if err := s.subscribe(ctx, c); err != nil {
		c.client.Disconnect(quiesce)
		c.lose(err)
		return err
	}
	select {
	case <-c.lost:
		return fmt.Errorf("lost: %w", c.why)
	case <-ctx.Done():
		s.leave(c)
		return nil
	}
}

// subscribe brings the session to the wanted filters and says online.
func (s *Subscriber) subscribe(ctx context.Context, c *conn) error {
	ctx, cancel := s.whileItComes(ctx)
	defer cancel(nil)
	var gone []string
	for _, f := range s.opts.Before {
		if !slices.Contains(s.opts.Filters, f) {
			gone = append(gone, f)
		}
	}
	if len(gone) > 0 {
		if err := c.await(ctx, c.client.Unsubscribe(gone...)); err != nil {
			return fmt.Errorf("cannot unsubscribe: %w", err)
		}
	}
	refused, err := s.subscribeAll(ctx, c)
	if err != nil {
		return fmt.Errorf("cannot subscribe: %w", err)
	}
	if err := s.say(ctx, c, Online); err != nil {
		return err
	}
	s.up(c, refused)
	return nil
}

// ErrRefused is what Healthy wraps when the broker refuses a filter.
var ErrRefused = errors.New("the broker refuses to subscribe to")

const refusedCode = 0x80 // MQTT 3.1.1, 3.9.3

func (s *Subscriber) subscribeAll(ctx context.Context, c *conn) (refused error, err error) {
	if len(s.opts.Filters) == 0 {
		return nil, nil
	}
	want := map[string]byte{}
	for _, f := range s.opts.Filters {
		want[f] = 1
	}
	token := c.client.SubscribeMultiple(want, nil).(*paho.SubscribeToken)
	err = c.await(ctx, token)
	result := token.Result()
	for _, f := range s.opts.Filters {
		if result[f] == refusedCode {
			refused = errors.Join(refused, fmt.Errorf("%w %s: check its access list", ErrRefused, f))
		}
	}
	if refused != nil { // the library makes an error of it; the other filters stand
		err = nil
	}
	return refused, err
}

func (s *Subscriber) up(c *conn, refused error) {
	if refused != nil {
		s.fault.Store(&refused)
		s.opts.Log.Error("broker refuses a subscription", "err", refused)
	} else {
		s.fault.Store(nil)
	}
	s.connected.Store(true)
	s.begun.Do(func() { close(s.ready) })
	s.opts.Log.Info("broker connected", "broker", redact(s.opts.URL), "session", c.session)
}

// await waits for a token on a connection; a token alone would also end well
// when the connection was lost.
func (c *conn) await(ctx context.Context, t paho.Token) error {
	select {
	case <-t.Done():
	case <-c.lost:
		return c.why
	case <-ctx.Done():
		return context.Cause(ctx)
	}
	select {
	case <-c.lost:
		return c.why
	default:
		return t.Error()
	}
}

// say publishes the own status word, retained.
func (s *Subscriber) say(ctx context.Context, c *conn, word string) error {
	if s.opts.StatusTopic == "" {
		return nil
	}
	if err := c.await(ctx, c.client.Publish(s.opts.StatusTopic, 1, true, word)); err != nil {
		return fmt.Errorf("cannot say %s: %w", word, err)
	}
	return nil
}

// stop closes Messages.
func (s *Subscriber) stop() {
	s.ended.Do(func() {
		close(s.stopping) // frees a receive that waits for room
		s.accept.Lock()
		s.stopped = true
		s.accept.Unlock()
		close(s.messages)
	})
}

// leave ends the last connection: nothing more comes in, what was handed over
// is acknowledged, the session stays.
func (s *Subscriber) leave(c *conn) {
	s.stop()
	ctx, cancel := context.WithTimeout(context.Background(), drainLimit)
	defer cancel()
	drained := make(chan struct{})
	go func() { s.unacked.Wait(); close(drained) }()
	select {
	case <-drained:
	case <-c.lost:
	case <-ctx.Done():
		s.opts.Log.Warn("stopped with messages not acknowledged; the broker will send them again")
	}
	if c.wire != nil {
		c.wire.flush()
	}
	if err := s.farewell(ctx, c); err != nil {
		s.opts.Log.Warn("the broker was not told of the stop", "err", err)
	}
	c.client.Disconnect(quiesce)
	c.lose(errNotConnected)
}

// unusedFilter is one that nobody subscribes.
const unusedFilter = "heaterd/nothing"

// farewell is answered by the broker only after it has read every
// acknowledgement before it; a broker that sees the socket close forgets those
// it has not read yet.
func (s *Subscriber) farewell(ctx context.Context, c *conn) error {
	if s.opts.StatusTopic == "" {
		return c.await(ctx, c.client.Unsubscribe(unusedFilter))
	}
	return s.say(ctx, c, Offline)
}
