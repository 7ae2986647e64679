package mqtt

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
	"time"

	"heaterd/ingest/reading"
)

// unsure is a message with QoS 0.
type unsure struct{}

func (unsure) Duplicate() bool   { return false }
func (unsure) Qos() byte         { return 0 }
func (unsure) Retained() bool    { return false }
func (unsure) Topic() string     { return "sites/quay/nodes/n-07/telemetry" }
func (unsure) MessageID() uint16 { return 0 }
func (unsure) Payload() []byte   { return nil }
func (unsure) Ack()              {}

// TestLostMessagesAreTold fills the queue: what is lost then is counted, and
// told once a minute at most.
func TestLostMessagesAreTold(t *testing.T) {
	var said bytes.Buffer
	now := reading.Instant(1_768_197_600_000_000)
	s := New(Options{
		Link: Link{Log: slog.New(slog.NewTextHandler(&said, nil))}, Queue: 1,
		Now: func() reading.Instant { return now },
	})
	for range 4 {
		s.receive(&conn{}, unsure{})
	}
	now = now.Add(time.Minute)
	s.receive(&conn{}, unsure{})
	if s.Dropped() != 4 || len(s.Messages()) != 1 {
		t.Errorf("%d lost, %d wait", s.Dropped(), len(s.Messages()))
	}
	if n := strings.Count(said.String(), "n-07"); n != 2 || !strings.Contains(said.String(), "lost=4") {
		t.Errorf("told %d times:\n%s", n, said.String())
	}
}
