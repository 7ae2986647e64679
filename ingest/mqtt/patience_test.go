package mqtt

import (
	"context"
	"fmt"
	"log/slog"
	"testing"
	"time"

	"heaterd/ingest/mqtt/mqtttest"
)

// What waited at the broker comes before its answer to the subscription. Taken
// slowly it must not make the subscriber hang up: it would have all of it again.
func TestSlowlyTakenBacklogIsTakenOnce(t *testing.T) {
	const backlog = 1500
	m := mqtttest.StartMosquitto(t, fmt.Sprintf("max_inflight_messages %d", backlog))
	link := Link{URL: m.URL(), ClientID: "slow", Log: slog.New(slog.NewTextHandler(t.Output(), nil))}
	options := Options{Link: link, Filters: []string{"t/#"}, Queue: 10}
	first, stop := context.WithCancel(t.Context())
	s := New(options)
	over := make(chan error)
	go func() { over <- s.Run(first) }()
	<-s.Ready()
	stop()
	<-over

	link.ClientID = "sender"
	p := NewPublisher(link)
	for i := range backlog {
		if err := p.Publish(t.Context(), "t/x", fmt.Append(nil, i), false); err != nil {
			t.Fatal(err)
		}
	}
	p.Close()

	s = New(options)
	s.patience = 500 * time.Millisecond
	second, stop := context.WithCancel(t.Context())
	go func() { over <- s.Run(second) }()
	pace := time.NewTicker(time.Millisecond)
	defer pace.Stop()
	for i := range backlog {
		got := <-s.Messages()
		if string(got.Payload) != fmt.Sprint(i) {
			t.Fatalf("message %d is %s", i, got.Payload)
		}
		<-pace.C
		got.Ack()
	}
	<-s.Ready()
	stop()
	<-over
}

// A broker that takes the connection and then says nothing is left.
func TestABrokerThatDoesNotAnswerIsLeft(t *testing.T) {
	s := New(Options{})
	s.patience = 10 * time.Millisecond
	ctx, cancel := s.whileItComes(t.Context())
	defer cancel(nil)
	<-ctx.Done()
	if got := context.Cause(ctx); got != errNoAnswer {
		t.Errorf("left because of %v", got)
	}
}
