package mqtt_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/ingest/broker"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
)

var quiet = slog.New(slog.DiscardHandler)

const patience = 20 * time.Second

func link(url, id string) mqtt.Link { return mqtt.Link{URL: url, ClientID: id, Log: quiet} }

// subscriber is a running Subscriber.
type subscriber struct {
	*mqtt.Subscriber
	quit context.CancelFunc // tells it to stop
	stop func()             // does, and waits until it has
}

func subscribe(t testing.TB, o mqtt.Options) subscriber {
	t.Helper()
	s := mqtt.New(o)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	stop := func() {
		cancel()
		select {
		case err := <-done:
			if err != nil {
				t.Error(err)
			}
			done <- nil
		case <-time.After(patience):
			t.Error("the subscriber does not stop")
		}
	}
	t.Cleanup(stop)
	select {
	case <-s.Ready():
	case <-time.After(patience):
		t.Fatal("never ready: ", s.Healthy())
	}
	return subscriber{s, cancel, stop}
}

// network leads to a broker, until it is cut.
func network(t testing.TB, url string) *mqtttest.Network {
	t.Helper()
	return mqtttest.StartNetwork(t, strings.TrimPrefix(url, "tcp://"))
}

func publisher(t testing.TB, url, id string) *mqtt.Publisher {
	t.Helper()
	p := mqtt.NewPublisher(link(url, id))
	t.Cleanup(p.Close)
	return p
}

// within is for what must not hang a test.
func within(t testing.TB) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	t.Cleanup(cancel)
	return ctx
}

func publish(t testing.TB, p *mqtt.Publisher, topic string, from, to int) {
	t.Helper()
	ctx := within(t)
	for i := from; i < to; i++ {
		if err := p.Publish(ctx, topic, fmt.Append(nil, i), false); err != nil {
			t.Fatal(err)
		}
	}
}

// take receives n messages, acknowledging them if ack.
func take(t testing.TB, s subscriber, n int, ack bool) (all []string) {
	t.Helper()
	for len(all) < n {
		m := next(t, s)
		all = append(all, string(m.Payload))
		if ack {
			m.Ack()
		}
	}
	return all
}

func next(t testing.TB, s subscriber) mqtt.Message {
	t.Helper()
	select {
	case m := <-s.Messages():
		return m
	case <-time.After(patience):
		t.Fatal("no message came")
		return mqtt.Message{}
	}
}

// takeEach takes until each of the wanted messages has come. Which were not
// acknowledged may come twice, and a broker may hand them to a session that
// comes back in another order.
func takeEach(t testing.TB, s subscriber, want []string) {
	t.Helper()
	missing := map[string]bool{}
	for _, m := range want {
		missing[m] = true
	}
	for len(missing) > 0 {
		delete(missing, take(t, s, 1, true)[0])
	}
}

func numbers(from, to int) (all []string) {
	for i := from; i < to; i++ {
		all = append(all, fmt.Sprint(i))
	}
	return all
}

// brokers runs a test against each broker heaterd is meant to work with.
func brokers(t *testing.T, test func(t *testing.T, url string)) {
	t.Run("mosquitto", func(t *testing.T) { test(t, mqtttest.StartMosquitto(t).URL()) })
	t.Run("embedded", func(t *testing.T) { test(t, embedded(t, t.TempDir()).URL()) })
}

func embedded(t testing.TB, dir string) *broker.Broker {
	t.Helper()
	b, err := broker.Start(t.Context(), broker.Options{Dir: dir, Log: quiet})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close(context.Background()) })
	return b
}

func TestUnacknowledgedMessagesDoNotStall(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		s := subscribe(t, mqtt.Options{Link: link(url, "sub"), Filters: []string{"a/#"}})
		publish(t, publisher(t, url, "pub"), "a/b", 0, 500)
		got := take(t, s, 500, false)
		if !slices.Equal(got, numbers(0, 500)) {
			t.Error("not in order")
		}
	})
}

func TestUnacknowledgedMessagesComeAgain(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		n := network(t, url)
		o := mqtt.Options{Link: link(n.URL(), "sub"), Filters: []string{"a/+"}}
		s := subscribe(t, o)
		p := publisher(t, url, "pub")
		publish(t, p, "a/b", 0, 100)
		take(t, s, 40, true)
		take(t, s, 30, false)
		s.quit() // as a daemon that is killed: it says nothing more
		n.Cut()
		s.stop()
		publish(t, p, "a/b", 100, 120)
		s = subscribe(t, o)
		takeEach(t, s, numbers(40, 120))
	})
}

func TestSessionQueuesWhileAway(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		o := mqtt.Options{Link: link(url, "sub"), Filters: []string{"a/b"}}
		subscribe(t, o).stop()
		publish(t, publisher(t, url, "pub"), "a/b", 0, 200)
		takeEach(t, subscribe(t, o), numbers(0, 200))
	})
}

func TestTakeover(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		o := mqtt.Options{Link: link(url, "sub"), Filters: []string{"a/b"}}
		first := subscribe(t, o)
		publish(t, publisher(t, url, "pub"), "a/b", 0, 50)
		take(t, first, 50, false)
		second := subscribe(t, o)
		first.stop()
		takeEach(t, second, numbers(0, 50))
	})
}

func TestRemovedFiltersAreUnsubscribed(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		o := mqtt.Options{Link: link(url, "sub"), Filters: []string{"a/b", "a/c"}}
		subscribe(t, o).stop()
		o.Before, o.Filters = o.Filters, []string{"a/c"}
		s := subscribe(t, o)
		p := publisher(t, url, "pub")
		publish(t, p, "a/b", 0, 5)
		publish(t, p, "a/c", 5, 6)
		if got := take(t, s, 1, true); got[0] != "5" {
			t.Errorf("came %v", got)
		}
	})
}

func TestStatusTopicAndRetained(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		n := network(t, url)
		own := link(n.URL(), "daemon")
		own.StatusTopic = "status/daemon"
		subscribe(t, mqtt.Options{Link: own, Filters: []string{"x"}})
		awaitRetained(t, url, "status/+")
		s := subscribe(t, mqtt.Options{Link: link(url, "sub"), Filters: []string{"status/+"}})
		m := next(t, s)
		if string(m.Payload) != mqtt.Online || !m.Retained {
			t.Errorf("%s, retained %v", m.Payload, m.Retained)
		}
		m.Ack()
		n.Cut()
		m = next(t, s)
		if string(m.Payload) != mqtt.Offline || m.Retained {
			t.Errorf("the will: %s, retained %v", m.Payload, m.Retained)
		}
		m.Ack()
	})
}

// awaitRetained waits until who subscribes is told what is retained: the
// embedded broker acknowledges first and retains within the next moment.
func awaitRetained(t testing.TB, url, filter string) {
	t.Helper()
	eventually(t, func() bool {
		s := subscribe(t, mqtt.Options{Link: link(url, "looker"), Filters: []string{filter}, Passing: true})
		defer s.stop()
		select {
		case m := <-s.Messages():
			m.Ack()
			return true
		case <-time.After(time.Second):
			return false
		}
	})
}

func TestOwnStatus(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		s := subscribe(t, mqtt.Options{Link: link(url, "sub"), Filters: []string{"own"}})
		o := mqtt.Options{Link: link(url, "daemon"), Filters: []string{"a"}}
		o.StatusTopic = "own"
		subscribe(t, o).stop()
		if got := take(t, s, 2, true); !slices.Equal(got, []string{mqtt.Online, mqtt.Offline}) {
			t.Errorf("said %v", got)
		}
	})
}

// After a kill Mosquitto knows no session, and delivers nothing to a client
// that does not subscribe again.
func TestMosquittoKilled(t *testing.T) {
	m := mqtttest.StartMosquitto(t)
	n := network(t, m.URL())
	s := subscribe(t, mqtt.Options{Link: link(n.URL(), "sub"), Filters: []string{"a/b"}})
	p := publisher(t, m.URL(), "pub")
	publish(t, p, "a/b", 0, 3)
	take(t, s, 3, true)
	m.Kill()
	m.Start()
	eventually(t, func() bool { return n.Made() > 1 && s.Connected() })
	eventually(t, func() bool { return p.Publish(within(t), "a/b", []byte("3"), false) == nil })
	if got := take(t, s, 1, true); got[0] != "3" {
		t.Errorf("came %v", got)
	}
}

func eventually(t testing.TB, ok func() bool) {
	t.Helper()
	for start := time.Now(); !ok(); <-time.After(20 * time.Millisecond) {
		if time.Since(start) > patience {
			t.Fatal("it never came to that")
		}
	}
}

func TestEmbeddedRestartKeepsTheQueue(t *testing.T) {
	dir := t.TempDir()
	b := embedded(t, dir)
	o := mqtt.Options{Link: link(b.URL(), "sub"), Filters: []string{"a/b"}}
	subscribe(t, o).stop()
	p := publisher(t, b.URL(), "pub")
	publish(t, p, "a/b", 0, 300)
	p.Close()
	if err := b.Close(within(t)); err != nil {
		t.Fatal(err)
	}
	o.URL = embedded(t, dir).URL()
	takeEach(t, subscribe(t, o), numbers(0, 300))
}

func TestEmbeddedUsers(t *testing.T) {
	b, err := broker.Start(t.Context(), broker.Options{Dir: t.TempDir(), Log: quiet, Users: []broker.User{
		{Name: "heaterd", Password: "s3cret", Publish: []string{"heaterd/#"}, Subscribe: []string{"sites/#"}},
		{Name: "quay", Password: "quay", Publish: []string{"sites/quay/nodes/+/telemetry"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close(context.Background()) })
	as := func(id, name, password string) mqtt.Link {
		l := link(b.URL(), id)
		l.Username, l.Password = name, password
		return l
	}
	s := subscribe(t, mqtt.Options{Link: as("sub", "heaterd", "s3cret"), Filters: []string{"sites/#"}})
	quay := mqtt.NewPublisher(as("n", "quay", "quay"))
	for _, topic := range []string{"sites/other/nodes/n-1/telemetry", "sites/quay/nodes/n.1/telemetry"} {
		_ = quay.Publish(within(t), topic, []byte(topic), false) // the first may cut the connection
	}
	if got := take(t, s, 1, true); got[0] != "sites/quay/nodes/n.1/telemetry" {
		t.Errorf("came %v", got)
	}
	if err := mqtt.NewPublisher(as("x", "quay", "wrong")).Publish(within(t), "a", nil, false); err == nil {
		t.Error("a wrong password is taken")
	}
	if err := mqtt.NewPublisher(link(b.URL(), "y")).Publish(within(t), "a", nil, false); err == nil {
		t.Error("no password is taken")
	}
}

func TestEmbeddedIsNotOpenToOthers(t *testing.T) {
	if _, err := broker.Start(t.Context(), broker.Options{Dir: t.TempDir(), Host: "0.0.0.0", Log: quiet}); !errors.Is(err, broker.ErrOpen) {
		t.Errorf("got %v", err)
	}
}

func TestBadAddress(t *testing.T) {
	for _, url := range []string{"", "127.0.0.1:1883", "http://h:1", "tcp://h", "tcp://:1883", "tls://"} {
		if err := mqtt.New(mqtt.Options{Link: link(url, "x")}).Run(t.Context()); !errors.Is(err, mqtt.ErrURL) {
			t.Errorf("%q: %v", url, err)
		}
	}
}

// Acknowledgements given just before a stop reach the broker.
func TestNothingComesAgainAfterAnOrderlyStop(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		o := mqtt.Options{Link: link(url, "sub"), Filters: []string{"a/b"}}
		p := publisher(t, url, "pub")
		for range 3 {
			s := subscribe(t, o)
			publish(t, p, "a/b", 0, 1000)
			take(t, s, 1000, true)
			s.stop()
		}
		s := subscribe(t, o)
		publish(t, p, "a/b", 1000, 1001)
		if got := take(t, s, 1, true); got[0] != "1000" {
			t.Errorf("came %v", got)
		}
	})
}

func BenchmarkQueue(b *testing.B) {
	url := mqtttest.StartMosquitto(b).URL()
	s := subscribe(b, mqtt.Options{Link: link(url, "sub"), Filters: []string{"a"}})
	p := publisher(b, url, "pub")
	for b.Loop() {
		publish(b, p, "a", 0, 1)
		take(b, s, 1, true)
	}
}
