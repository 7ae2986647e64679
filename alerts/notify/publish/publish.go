package publish

import (
	"context"

	"heaterd/alerts/notify"
)

// Publisher publishes with QoS 1 and gives nil only once the broker has the
// message.
type Publisher interface {
	Publish(ctx context.Context, topic string, payload []byte, retained bool) error
}

// Sender publishes through one broker.
type Sender struct{ Publisher Publisher }

// Send publishes the state. Only a test is not retained.
func (s Sender) Send(ctx context.Context, m notify.Message) error {
	return s.Publisher.Publish(ctx, m.Topic, []byte(m.Text), m.Kind == notify.State)
}
