package ingest_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"

	"heaterd/ingest"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/reading"
	"heaterd/ingest/source"
	"heaterd/ingest/store"
)

const readings = 600 // of the good node

// A good node's readings are all kept while others do whatever they can.
func TestHostileNodesHarmOnlyThemselves(t *testing.T) {
	brokers(t, func(t *testing.T, url string) {
		s, loop := listening(t, url)
		calm := goodNode(t, url, 0, readings/2)
		attack, stop := context.WithCancel(t.Context())
		var hostile sync.WaitGroup
		for name, do := range attacks {
			hostile.Go(func() {
				if err := do(attack, url); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			})
		}
		busy := goodNode(t, url, readings/2, readings)
		hostile.Wait()
		stop()
		eventually(t, "all kept", func() bool { return len(runtimes(t, s, "good")) >= readings })
		for i, v := range runtimes(t, s, "good") {
			if v != float64(i) {
				t.Fatalf("reading %d of the good node is %v", i, v)
			}
		}
		checkBounds(t, s, loop)
		t.Logf("median from publish to the broker's word: %v alone, %v during the attacks", calm, busy)
	})
}

const benchFilter = "sites/+/nodes/+/telemetry"

func listening(t *testing.T, url string) (*store.Store, *ingest.Ingest) {
	t.Helper()
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "h.db"), quiet)
	if err != nil {
		t.Fatal(err)
	}
	sub := mqtt.New(mqtt.Options{Link: mqtt.Link{URL: url, ClientID: "heaterd", Log: quiet}, Filters: []string{benchFilter}})
	loop := ingest.New(ingest.Options{
		Messages: sub.Messages(), Decoder: source.Defaults(), Log: s, Logger: quiet,
		Budget: ingest.Budget{PerSecond: 5, Burst: 2000},
		Listed: func(id reading.NodeID) bool { return id == "good" || id == "bad" },
	})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 2)
	go func() { done <- sub.Run(ctx) }()
	go func() { done <- loop.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := errors.Join(<-done, <-done, s.Close()); err != nil {
			t.Error(err)
		}
	})
	<-sub.Ready()
	return s, loop
}

func topicOf(node string) string { return "sites/quay/nodes/" + node + "/telemetry" }

// goodNode publishes readings numbered by their run time and gives the median
// time until the broker acknowledged one.
func goodNode(t *testing.T, url string, from, to int) time.Duration {
	t.Helper()
	p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: fmt.Sprint("good-", from), Log: quiet})
	defer p.Close()
	var took []time.Duration
	at := reading.InstantOf(time.Now()).Add(-time.Hour)
	for i := from; i < to; i++ {
		start := time.Now()
		body := fmt.Sprintf(`[{"bn":"good/","bt":%d,"n":"runtime","u":"s","v":%d},{"n":"co","u":"ppm","v":4}]`, int64(at)/1e6+int64(i), i)
		if err := p.Publish(t.Context(), topicOf("good"), []byte(body), false); err != nil {
			t.Fatal(err)
		}
		took = append(took, time.Since(start))
	}
	return median(took)
}

func runtimes(t *testing.T, s *store.Store, node reading.NodeID) (all []float64) {
	t.Helper()
	err := s.Samples(t.Context(), node, 0, reading.InstantOf(time.Now()).Add(time.Hour), func(x reading.Sample) bool {
		all = append(all, x.Runtime)
		return true
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// attacks go on at the same time.
var attacks = map[string]func(ctx context.Context, url string) error{
	"invented names": func(ctx context.Context, url string) error {
		return each(ctx, url, 3000, func(i int) (string, string) {
			return topicOf(fmt.Sprint("made-up-", i)), `[{"n":"co","u":"ppm","v":900}]`
		})
	},
	"a flood of a listed node": func(ctx context.Context, url string) error {
		return each(ctx, url, 5000, func(i int) (string, string) {
			return topicOf("bad"), fmt.Sprintf(`[{"n":"runtime","u":"s","v":%d}]`, i)
		})
	},
	"absurd values": func(ctx context.Context, url string) error {
		return each(ctx, url, len(absurd), func(i int) (string, string) { return topicOf("bad"), absurd[i] })
	},
	"retained floods": func(ctx context.Context, url string) error {
		p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: "retained", Log: quiet})
		defer p.Close()
		for range 200 {
			if err := p.Publish(ctx, topicOf("bad"), []byte(`[{"n":"co","u":"ppm","v":1}]`), true); err != nil {
				return err
			}
		}
		return nil
	},
	"a pack of 16 MiB": func(ctx context.Context, url string) error {
		return raw(url, topicOf("bad"), bytes.Repeat([]byte{'['}, 16<<20))
	},
	"a topic that is not UTF-8": func(ctx context.Context, url string) error {
		return raw(url, topicOf("b\xff\xfed"), []byte(`[{"n":"co","u":"ppm","v":1}]`))
	},
}

// absurd are payloads that no reading may come out of, but for the first,
// whose stamp is years ahead.
var absurd = []string{
	`[{"bt":4102444800,"n":"co","u":"ppm","v":1}]`, `[{"bt":-99999999999,"n":"co","u":"ppm","v":1}]`,
	`[{"n":"co","u":"ppm","v":NaN}]`, `[{"n":"co","u":"ppm","v":1e308}]`, `[{"n":"co","u":"ppm","v":1e999}]`,
	`[{"n":"co","u":"ppm","v":-500}]`, `[{"n":"temp","u":"Cel","v":-1e30}]`, `[{"n":"co","u":"Cel","v":20}]`,
	`[{"n":"temp","u":"ppm","v":20}]`, `[{"n":"runtime","u":"s","v":-7}]`,
	`[{"bn":"good/","n":"co","u":"ppm","v":800}]`, // another node's name
	strings.Repeat("[", 100_000), strings.Repeat(`{"a":`, 100_000), `[` + strings.Repeat(`{"n":"co","u":"ppm","v":1},`, 30_000) + `{}]`,
	"", "\x00\xff", `{}`, `[]`, `null`,
}

func each(ctx context.Context, url string, n int, message func(i int) (topic, body string)) error {
	topic, _ := message(0)
	p := mqtt.NewPublisher(mqtt.Link{URL: url, ClientID: fmt.Sprint(topic, n), Log: quiet})
	defer p.Close()
	for i := range n {
		topic, body := message(i)
		if err := p.Publish(ctx, topic, []byte(body), false); err != nil {
			return err
		}
	}
	return nil
}

// raw publishes what a library would refuse to; the broker may well hang up.
func raw(url, topic string, body []byte) error {
	c, err := net.Dial("tcp", strings.TrimPrefix(url, "tcp://"))
	if err != nil {
		return err
	}
	defer c.Close()
	connect := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	connect.ProtocolName, connect.ProtocolVersion, connect.CleanSession, connect.ClientIdentifier = "MQTT", 4, true, "raw"+topic[:5]+fmt.Sprint(len(body))
	if err := connect.Write(c); err != nil {
		return err
	}
	if _, err := packets.ReadPacket(c); err != nil {
		return err
	}
	publish := packets.NewControlPacket(packets.Publish).(*packets.PublishPacket)
	publish.TopicName, publish.Payload, publish.Qos, publish.MessageID = topic, body, 1, 1
	_ = publish.Write(c) // cut off where the broker has had enough
	_ = c.SetReadDeadline(time.Now().Add(5 * time.Second))
	_, _ = packets.ReadPacket(c)
	return nil
}

// checkBounds checks what the attacks left behind.
func checkBounds(t *testing.T, s *store.Store, loop *ingest.Ingest) {
	t.Helper()
	eventually(t, "all taken", func() bool { return loop.Stats().Refused[reading.NotListed] >= 3000 && loop.Stats().Waiting == 0 })
	stats := loop.Stats()
	for _, r := range []reading.Reason{reading.NotListed, reading.OverBudget, reading.BadUnit, reading.BadRange, reading.BadTime, reading.BadSyntax} {
		if stats.Refused[r] == 0 {
			t.Errorf("nothing refused as %s: %v", r, stats.Refused)
		}
	}
	lines, err := s.Lines(t.Context(), 0, 100_000)
	if err != nil {
		t.Fatal(err)
	}
	refused := map[reading.Reason]int{}
	for _, l := range lines {
		if l.Refused != nil {
			refused[l.Refused.Reason]++
		}
		if l.Pack != nil && l.Pack.Node != "good" && l.Pack.Node != "bad" {
			t.Fatalf("a pack of %q in the log", l.Pack.Node)
		}
	}
	if n := refused[reading.NotListed]; n == 0 || n > 60 {
		t.Errorf("%d lines about nodes not listed", n)
	}
	if n := refused[reading.OverBudget]; n == 0 || n > 10 {
		t.Errorf("%d lines about a budget", n)
	}
	var nodes int
	if err := s.Reader().QueryRow(`SELECT COUNT(*) FROM node`).Scan(&nodes); err != nil || nodes != 2 {
		t.Errorf("%d nodes in the store, %v", nodes, err)
	}
	adopt(t, s)
}

// adopt checks that a person finds an unlisted node and what it sent.
func adopt(t *testing.T, s *store.Store) {
	t.Helper()
	all, err := s.ListQuarantine(t.Context(), "made-up-0", 5, 64<<10)
	if err != nil || len(all) != 1 || all[0].Refused.Reason != reading.NotListed || !strings.Contains(string(all[0].Payload), "900") {
		t.Errorf("in the quarantine: %+v, %v", all, err)
	}
}

func median(all []time.Duration) time.Duration { return quantile(all, 0.5) }
