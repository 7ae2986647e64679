//go:build unix

package ingest_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"heaterd/ingest"
	"heaterd/ingest/broker"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
	"heaterd/ingest/reading"
	"heaterd/ingest/source"
	"heaterd/ingest/store"
)

// BenchmarkDurable compares what the broker's queue empties into: a bare
// client that acknowledges and forgets, and this package with a store on disk.
// The messages wait in the broker before the clock starts, so only the
// receiving side is measured.
func BenchmarkDurable(b *testing.B) {
	b.Run("mosquitto", func(b *testing.B) { benchDurable(b, mqtttest.StartMosquitto(b).URL()) })
	b.Run("embedded", func(b *testing.B) {
		inside, err := broker.Start(b.Context(), broker.Options{Dir: b.TempDir(), Log: quiet})
		if err != nil {
			b.Fatal(err)
		}
		defer inside.Close(context.Background())
		benchDurable(b, inside.URL()) // its own time is in both figures
	})
}

func benchDurable(b *testing.B, url string) {
	const n = 20_000
	committing := &commits{}
	var bare, ours span
	fastest := [2]time.Duration{time.Hour, time.Hour}
	for b.Loop() {
		one, other := emptyBare(b, url, n), emptyOurs(b, url, n, committing)
		bare.add(one)
		ours.add(other)
		fastest = [2]time.Duration{min(fastest[0], one.wall), min(fastest[1], other.wall)}
	}
	total := float64(n * b.N)
	b.ReportMetric(total/bare.wall.Seconds(), "bare-msg/s")
	b.ReportMetric(total/ours.wall.Seconds(), "durable-msg/s")
	b.ReportMetric(bare.cpu.Seconds()*1e6/total, "bare-µs-cpu/msg")
	b.ReportMetric(ours.cpu.Seconds()*1e6/total, "durable-µs-cpu/msg")
	b.ReportMetric(total/float64(committing.n), "msg/commit")
	b.ReportMetric(committing.seconds/ours.wall.Seconds(), "committing-ratio")
	b.ReportMetric(fastest[0].Seconds()/fastest[1].Seconds(), "best-speed-ratio") // least disturbed by what else the machine does
	b.ReportMetric(bare.wall.Seconds()/ours.wall.Seconds(), "speed-ratio")
}

// commits adds up the time in commits.
type commits struct {
	n       int
	seconds float64
}

func (c *commits) Observe(s float64) { c.n++; c.seconds += s }

// span is time on the clock and on the processors.
type span struct{ wall, cpu time.Duration }

func (s *span) add(o span) { s.wall += o.wall; s.cpu += o.cpu }

func now() span {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return span{time.Duration(time.Now().UnixNano()), time.Duration(u.Utime.Nano() + u.Stime.Nano())}
}

func since(s span) span { n := now(); return span{n.wall - s.wall, n.cpu - s.cpu} }

func bareOptions(url string) *paho.ClientOptions {
	return paho.NewClientOptions().AddBroker(url).SetClientID("bare").SetCleanSession(false)
}

func emptyBare(b *testing.B, url string, n int) span {
	b.Helper()
	c := paho.NewClient(bareOptions(url))
	c.Connect().Wait()
	c.Subscribe(benchFilter, 1, nil).Wait()
	c.Disconnect(250)
	queue(b, url, n)
	var left sync.WaitGroup
	left.Add(n)
	c = paho.NewClient(bareOptions(url).SetDefaultPublishHandler(func(paho.Client, paho.Message) { left.Done() }))
	begun := now()
	c.Connect().Wait()
	left.Wait()
	took := since(begun)
	c.Unsubscribe(benchFilter).Wait()
	c.Disconnect(250)
	return took
}

func emptyOurs(b *testing.B, url string, n int, committing *commits) span {
	b.Helper()
	s, err := store.Open(b.Context(), filepath.Join(b.TempDir(), "h.db"), quiet)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	l := mqtt.Link{URL: url, ClientID: "ours", Log: quiet}
	away(b, mqtt.Options{Link: l, Filters: []string{benchFilter}})
	queue(b, url, n)
	sub := mqtt.New(mqtt.Options{Link: l, Filters: []string{benchFilter}})
	loop := ingest.New(ingest.Options{Messages: sub.Messages(), Decoder: source.Defaults(), Log: s, Logger: quiet, Commits: committing})
	begun := now()
	stop := both(b, sub, loop)
	for kept := int64(0); kept <= int64(n); { // one line is a tick
		if kept, err = loop.Await(b.Context(), kept); err != nil {
			b.Fatal(err)
		}
	}
	took := since(begun)
	if got := loop.Stats(); got.Samples != int64(n) {
		b.Fatalf("%+v", got)
	}
	stop()
	away(b, mqtt.Options{Link: l, Before: []string{benchFilter}})
	return took
}

// queue publishes n packs of 100 nodes, several at once as nodes do.
func queue(b *testing.B, url string, n int) {
	b.Helper()
	const senders = 20
	var all sync.WaitGroup
	for k := range senders {
		all.Go(func() {
			p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: fmt.Sprint("node-", k), Log: quiet})
			defer p.Close()
			for i := k; i < n; i += senders {
				node := i % 100
				at := reading.InstantOf(time.Now()).Seconds(0)
				body := fmt.Sprintf(`[{"bn":"n-%02d/","bt":%.1f,"n":"flame","vb":true},{"n":"runtime","u":"s","v":%d},`+
					`{"n":"co","u":"ppm","v":%.1f},{"n":"temp","u":"Cel","v":%.2f}]`, node, at, i, float64(i%300)/10, float64(i%2000)/100)
				if err := p.Publish(b.Context(), fmt.Sprintf("sites/quay/nodes/n-%02d/telemetry", node), []byte(body), false); err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
}

// away connects once, so that the broker knows the session and its filters.
func away(b *testing.B, o mqtt.Options) {
	b.Helper()
	s := mqtt.New(o)
	ctx, cancel := context.WithCancel(b.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	<-s.Ready()
	cancel()
	<-done
}

// both runs the two and gives what stops them.
func both(b *testing.B, s *mqtt.Subscriber, l *ingest.Ingest) (stop func()) {
	b.Helper()
	ctx, cancel := context.WithCancel(b.Context())
	done := make(chan error, 2)
	go func() { done <- s.Run(ctx) }()
	go func() { done <- l.Run(ctx) }()
	return func() {
		cancel()
		if err := errors.Join(<-done, <-done); err != nil {
			b.Error(err)
		}
	}
}

// BenchmarkLatency is the time from a publish to the reading being durable.
func BenchmarkLatency(b *testing.B) {
	url := mqtttest.StartMosquitto(b).URL()
	d := run(b, url, filepath.Join(b.TempDir(), "h.db"))
	p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: "node", Log: quiet})
	defer p.Close()
	last, _ := d.loop.Appended()
	for b.Loop() {
		go func() { _ = p.Publish(context.Background(), "nodes/n-1", []byte("1"), false) }()
		last, _ = d.loop.Await(b.Context(), last)
	}
}
