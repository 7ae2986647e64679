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

// NewPublisher makes a Publisher on l, whose client id must be its own. It says
// nothing of itself: the status topic is the Subscriber's.
func NewPublisher(l Link) *Publisher {
	l.StatusTopic = ""
	return &Publisher{link: l}
}

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
	return c, nil
}

// Close disconnects and leaves the Publisher ready to connect again.
func (p *Publisher) Close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.current == nil {
		return
	}
	p.current.client.Disconnect(quiesce)
	p.current.lose(errNotConnected)
	p.current = nil
}
