package mqtt

import (
	"sync/atomic"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"heaterd/ingest/reading"
)

// dropNotice is the least time between two words about messages that were
// dropped: common practice, no source.
const dropNotice = time.Minute

// Message is one message as the broker delivered it.
type Message struct {
	Topic     string
	Payload   []byte
	Retained  bool // the broker kept it: last known, not fresh
	Duplicate bool // delivered before, perhaps
	Arrived   reading.Instant
	Ack       func() // tells the broker that it is kept
}

// receive hands one message over. It blocks only while the queue is full, and
// gives up when its connection is gone: the broker will send it again.
func (s *Subscriber) receive(c *conn, m paho.Message) {
	s.accept.RLock()
	defer s.accept.RUnlock()
	if s.stopped {
		return
	}
	out := s.message(c, m)
	select {
	case s.messages <- out:
		s.handed.Add(1)
		return
	default:
	}
	if m.Qos() == 0 {
		s.unacked.Done()
		s.drop(out)
		return
	}
	select {
	case s.messages <- out:
		s.handed.Add(1)
	case <-c.lost:
		s.unacked.Done()
	case <-s.stopping:
		s.unacked.Done()
	}
}

// drop counts a message that is lost, and says so now and then.
func (s *Subscriber) drop(m Message) {
	n := s.dropped.Add(1)
	if m.Arrived.Sub(reading.Instant(s.told.Load())).Abs() < dropNotice {
		return
	}
	s.told.Store(int64(m.Arrived))
	s.opts.Log.Warn("messages with QoS 0 were lost: more came than could be kept; have nodes publish with QoS 1",
		"topic", m.Topic, "lost", n)
}

func (s *Subscriber) message(c *conn, m paho.Message) Message {
	s.unacked.Add(1)
	r := &receipt{from: s, conn: c, message: m}
	return Message{
		Topic: m.Topic(), Payload: m.Payload(), Retained: m.Retained(), Duplicate: m.Duplicate(),
		Arrived: s.opts.Now(), Ack: r.acknowledge,
	}
}

// receipt is what a message still needs.
type receipt struct {
	from    *Subscriber
	conn    *conn
	message paho.Message
	given   atomic.Bool
}

func (r *receipt) acknowledge() {
	if r.given.Swap(true) {
		return
	}
	switch {
	case r.message.Qos() == 0:
	case r.conn.wire == nil || r.message.Qos() == 2:
		r.message.Ack()
	default:
		r.conn.wire.acknowledge(r.message.MessageID())
	}
	r.from.unacked.Done()
}
