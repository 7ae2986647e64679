package ingest_test

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"heaterd/ingest"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

var quiet = slog.New(slog.DiscardHandler)

// numbered decodes payloads that are numbers, as CO of the node in the topic.
type numbered struct{}

func (numbered) Decode(topic string, payload []byte, arrived reading.Instant) (record.Line, error) {
	half := strings.HasSuffix(string(payload), " and nonsense")
	if topic == "answer" {
		return record.Line{Answer: &record.Answer{}}, nil
	}
	v, err := strconv.Atoi(strings.TrimSuffix(string(payload), " and nonsense"))
	if half {
		return record.Line{Pack: &reading.Pack{Node: reading.NodeID(topic), Samples: []reading.Sample{
			{At: arrived, Has: reading.CO, CO: float32(v)}}, Spoilt: &reading.Refusal{Reason: reading.BadRange, Where: "record 2", Detail: "too cold"}}}, nil
	}
	if err != nil {
		return record.Line{Refused: &record.Refused{Node: reading.NodeID(topic)}},
			&reading.Refusal{Reason: reading.BadField, Where: "here", Detail: "no number"}
	}
	return record.Line{Pack: &reading.Pack{Node: reading.NodeID(topic), Samples: []reading.Sample{
		{At: arrived, Has: reading.CO, CO: float32(v)}}}}, nil
}

// memory is a Log that can fail.
type memory struct {
	mu    sync.Mutex
	lines []record.Line
	bad   []store.Quarantined
	fault error
	tries int
	slow  time.Duration // each attempt, in the bubble's time
}

func (m *memory) Keep(_ context.Context, b store.Batch) (int64, error) {
	<-time.After(m.slow)
	m.mu.Lock()
	defer m.mu.Unlock()
	m.tries++
	if m.fault != nil {
		return 0, m.fault
	}
	for i := range b.Lines {
		b.Lines[i].ID = int64(len(m.lines) + i + 1)
	}
	m.lines = append(m.lines, b.Lines...)
	m.bad = append(m.bad, b.Quarantined...)
	return int64(len(m.lines)), nil
}

func (m *memory) fail(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.fault = err
}

// values gives the CO values kept, in order.
func values(lines []record.Line) (all []int) {
	for _, l := range lines {
		if l.Pack != nil {
			all = append(all, int(l.Pack.Samples[0].CO))
		}
	}
	return all
}

func sequence(from, to int) (all []int) {
	for i := from; i < to; i++ {
		all = append(all, i)
	}
	return all
}

// bench is a loop with a log in memory, in a bubble of synthetic time.
type bench struct {
	*ingest.Ingest
	log   *memory
	in    chan mqtt.Message
	acked []int
	end   func()
}

func start(t *testing.T, o ingest.Options) *bench {
	b := &bench{log: &memory{}, in: make(chan mqtt.Message, 5000)}
	o.Messages, o.Decoder, o.Log, o.Logger = b.in, numbered{}, b.log, quiet
	b.Ingest = ingest.New(o)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	b.end = func() {
		cancel()
		close(b.in)
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	synctest.Wait()
	return b
}

func (b *bench) send(node string, from, to int) {
	for i := from; i < to; i++ {
		b.in <- mqtt.Message{Topic: node, Payload: strconv.AppendInt(nil, int64(i), 10),
			Arrived: reading.InstantOf(time.Now()), Ack: func() { b.acked = append(b.acked, i) }}
	}
}

func TestKeptThenAcknowledgedInOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{Batch: 100})
		defer b.end()
		b.log.slow = time.Millisecond // so that batches fill, however the goroutines are scheduled
		b.send("n-1", 0, 1234)
		<-time.After(time.Second / 2)
		synctest.Wait()
		if got := values(b.log.lines); !slices.Equal(got, sequence(0, 1234)) {
			t.Errorf("%d kept", len(got))
		}
		if !slices.Equal(b.acked, sequence(0, 1234)) {
			t.Errorf("%d acknowledged", len(b.acked))
		}
		if s := b.Stats(); s.Messages != 1234 || s.Samples != 1234 || s.Lines != 1235 || s.Commits > 15 {
			t.Errorf("%+v", s)
		}
	})
}

func TestNothingIsAcknowledgedWhileTheStoreFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{})
		defer b.end()
		b.log.fail(store.ErrUnavailable)
		b.send("n-1", 0, 3000)
		synctest.Wait()
		if _, err := b.Record(t.Context(), record.Line{Answer: &record.Answer{}}); !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("a person's line: %v", err)
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		if len(b.acked) != 0 || !errors.Is(b.Healthy(), store.ErrUnavailable) || b.log.tries > 25 {
			t.Errorf("%d acknowledged, health %v, %d tries", len(b.acked), b.Healthy(), b.log.tries)
		}
		b.log.fail(nil)
		time.Sleep(10 * time.Second)
		synctest.Wait()
		if !slices.Equal(values(b.log.lines), sequence(0, 3000)) || len(b.acked) != 3000 || b.Healthy() != nil {
			t.Errorf("%d kept, %d acknowledged, health %v", len(b.log.lines), len(b.acked), b.Healthy())
		}
	})
}

func TestStopWhileTheStoreFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{})
		b.log.fail(store.ErrUnavailable)
		b.send("n-1", 0, 3000)
		synctest.Wait()
		b.end()
		if len(b.acked) != 0 {
			t.Errorf("%d acknowledged", len(b.acked))
		}
		if _, err := b.Record(t.Context(), record.Line{}); !errors.Is(err, ingest.ErrEnded) {
			t.Errorf("after the end: %v", err)
		}
	})
}

func TestStopKeepsWhatWasDelivered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{})
		b.send("n-1", 0, 5000)
		b.end()
		if len(b.acked) != 5000 || len(values(b.log.lines)) != 5000 {
			t.Errorf("%d acknowledged", len(b.acked))
		}
	})
}

func TestTicks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begun := time.Now()
		b := start(t, ingest.Options{})
		defer b.end()
		time.Sleep(61 * time.Second)
		synctest.Wait()
		if len(b.log.lines) != 5 {
			t.Fatalf("%d ticks", len(b.log.lines))
		}
		for i, l := range b.log.lines {
			if l.At.Time().Sub(begun) != time.Duration(i)*ingest.DefaultTick {
				t.Errorf("tick %d at %v", i, l.At)
			}
		}
	})
}

func TestRecordAndFollow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{})
		defer b.end()
		followed := make(chan int64)
		go func() { last, _ := b.Await(t.Context(), 1); followed <- last }()
		id, err := b.Record(t.Context(), record.Line{Entry: &record.Entry{Heater: "H-07"}})
		if err != nil || b.log.lines[id-1].Entry.Heater != "H-07" || b.log.lines[id-1].At == 0 {
			t.Errorf("id %d, %v", id, err)
		}
		if last := <-followed; last != id {
			t.Errorf("followed to %d", last)
		}
	})
}

func TestTheLogsClockDoesNotRunBackwards(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{})
		defer b.end()
		now := reading.InstantOf(time.Now())
		for _, at := range []time.Duration{5 * time.Second, 2 * time.Second, time.Hour, 0} {
			b.in <- mqtt.Message{Topic: "n", Payload: []byte("1"), Arrived: now.Add(at), Ack: func() {}}
		}
		synctest.Wait()
		for i, want := range []time.Duration{0, 5 * time.Second, 5 * time.Second, time.Hour, 0} {
			if got := b.log.lines[i].At.Sub(now); got != want {
				t.Errorf("line %d after %v, want %v", i, got, want)
			}
		}
	})
}

func TestRefusedMessages(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{})
		defer b.end()
		acks := 0
		b.in <- mqtt.Message{Topic: "n-\xff", Payload: []byte("x"), Ack: func() { acks++ }}
		synctest.Wait()
		r := b.log.lines[1].Refused
		if r == nil || r.Reason != reading.BadField || r.Detail != "at here: no number" || r.Topic != "n-\uFFFD" {
			t.Errorf("line %+v", r)
		}
		if len(b.log.bad) != 1 || string(b.log.bad[0].Payload) != "x" || acks != 1 || b.Stats().Refused[reading.BadField] != 1 {
			t.Errorf("quarantine %v, %d acknowledged", b.log.bad, acks)
		}
	})
}

// What could be read of a message is kept; what could not is counted each
// time, and written down once in the hour.
func TestHalfOfAMessage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{})
		defer b.end()
		for range 3 {
			b.in <- mqtt.Message{Topic: "n-1", Payload: []byte("400 and nonsense"), Ack: func() {}}
		}
		synctest.Wait()
		if got := values(b.log.lines); !slices.Equal(got, []int{400, 400, 400}) {
			t.Errorf("kept %v", got)
		}
		want := record.Refused{Topic: "n-1", Node: "n-1", Reason: reading.BadRange, Detail: "at record 2: too cold; the rest of the message was taken"}
		if len(b.log.bad) != 1 || b.log.bad[0].Refused != want || b.Stats().Refused[reading.BadRange] != 3 {
			t.Errorf("quarantine %+v, refused %v", b.log.bad, b.Stats().Refused)
		}
	})
}

func TestBudgetIsEachNodesOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{Budget: ingest.Budget{PerSecond: 1, Burst: 10}})
		defer b.end()
		b.send("n-1", 0, 500)
		b.send("n-2", 0, 5)
		time.Sleep(5 * time.Second)
		b.send("n-1", 500, 510)
		synctest.Wait()
		want := slices.Concat(sequence(0, 10), sequence(0, 5), sequence(500, 505))
		if got := values(b.log.lines); !slices.Equal(got, want) {
			t.Errorf("kept %v", got)
		}
		if n := b.Stats().Refused[reading.OverBudget]; n != 495 || len(b.log.bad) != 1 || len(b.acked) != 515 {
			t.Errorf("%d over budget, %d in quarantine, %d acknowledged", n, len(b.log.bad), len(b.acked))
		}
	})
}

// A flood that nobody can be named for keeps no acknowledgement out.
func TestAnswersHaveABudgetOfTheirOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, ingest.Options{Budget: ingest.Budget{PerSecond: 1, Burst: 10}})
		defer b.end()
		for range 50 {
			b.in <- mqtt.Message{Payload: []byte("rubbish"), Ack: func() {}}
		}
		for range 12 {
			b.in <- mqtt.Message{Topic: "answer", Ack: func() {}}
		}
		synctest.Wait()
		n := 0
		for _, l := range b.log.lines {
			if l.Answer != nil {
				n++
			}
		}
		if n != 10 {
			t.Errorf("%d answers of 12 were kept, want 10", n)
		}
	})
}

// A source that closes at the moment the loop is told to stop holds nobody up,
// whichever of the two the loop sees first.
func TestAClosingSourceEndsTheLoopAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for range 50 {
			b := start(t, ingest.Options{})
			begun := time.Now()
			b.end()
			if took := time.Since(begun); took > 0 {
				t.Fatalf("it waited %v", took)
			}
		}
	})
}

// Who may publish for one site must not speak for another's nodes, nor spend
// what they may send.
func TestAnotherSitesTopicIsRefused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var foreign atomic.Bool
		b := start(t, ingest.Options{
			Budget:    ingest.Budget{PerSecond: 0.001, Burst: 2},
			Elsewhere: func(topic string, node reading.NodeID) bool { return foreign.Load() && node == "n-1" },
		})
		defer b.end()
		foreign.Store(true)
		b.send("n-1", 10, 15)
		synctest.Wait()
		foreign.Store(false)
		b.send("n-1", 0, 2)
		synctest.Wait()
		if got := values(b.log.lines); !slices.Equal(got, sequence(0, 2)) {
			t.Errorf("kept %v", got)
		}
		if s := b.Stats(); s.Refused[reading.BadTopic] != 5 || len(b.log.bad) == 0 || b.log.bad[0].Refused.Node != "n-1" {
			t.Errorf("%+v, quarantined %+v", s.Refused, b.log.bad)
		}
	})
}
