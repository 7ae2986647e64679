package mqtt

import (
	"context"
	"fmt"
	"sync"
)

// Publisher sends messages. It connects when there is something to send and
// again after a lost connection; it never queues: what Publish could not
// deliver is the caller's to try again.
type Publisher struct {
	link Link

	mu      sync.Mutex // guards what follows; held while connecting
	current *conn
}

// NewPublisher makes a Publisher on l, whose client id must be its own.
func NewPublisher(l Link) *Publisher { return &Publisher{link: l} }

// Publish sends with QoS 1 and gives nil only after the broker acknowledged
// the message on the connection it was sent on. After an error the message may
// or may not have arrived.
func (p *Publisher) Publish(ctx context.Context, topic string, payload []byte, retained bool) error {
	c, err := p.connection(ctx)
	if err != nil {
		return err
	}
	if err := c.await(ctx, c.client.Publish(topic, 1, retained, payload)); err != nil {
		return fmt.Errorf("cannot publish to %s: %w", topic, err)
	}
	return nil
}

func (p *Publisher) connection(ctx context.Context) (*conn, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.current != nil {
		select {
		case <-p.current.lost:
		default:
			return p.current, nil
		}
	}
	if err := p.link.Check(); err != nil {
		return nil, err
	}
	c, err := p.link.connect(ctx, true, nil)
	if err != nil {
		return nil, err
	}
	p.current = c
	return c, p.online(ctx, c)
}

func (p *Publisher) online(ctx context.Context, c *conn) error {
	if p.link.StatusTopic == "" {
		return nil
	}
	return c.await(ctx, c.client.Publish(p.link.StatusTopic, 1, true, Online))
}

// Close says offline, disconnects and leaves the Publisher ready to connect
// again.
func (p *Publisher) Close(ctx context.Context) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.current == nil {
		return
	}
	if p.link.StatusTopic != "" {
		_ = p.current.await(ctx, p.current.client.Publish(p.link.StatusTopic, 1, true, Offline))
	}
	p.current.client.Disconnect(quiesce)
	p.current.lose(errNotConnected)
	p.current = nil
}

// Drop cuts the connection without a goodbye, as a node that loses its power
// does: the broker then publishes the will.
func (p *Publisher) Drop() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.current != nil {
		p.current.cut()
	}
}
