package channels

import (
	"errors"
	"fmt"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/mail"
	"heaterd/alerts/notify/publish"
	"heaterd/alerts/notify/text"
	"heaterd/alerts/notify/webhook"
)

// Open makes the senders by channel id; broker may be nil where no channel
// publishes. Its error joins those of all channels; the senders that could be
// made are given all the same.
func Open(s notify.Settings, broker publish.Publisher) (map[string]notify.Sender, error) {
	senders := map[string]notify.Sender{}
	var all []error
	for _, c := range s.Channels {
		sender, err := open(c, s.BaseURL, broker)
		if err != nil {
			all = append(all, fmt.Errorf("cannot use channel %s: %w", c.ID, err))
			continue
		}
		senders[c.ID] = sender
	}
	return senders, errors.Join(all...)
}

func open(c notify.Channel, source string, broker publish.Publisher) (notify.Sender, error) {
	switch c.Kind {
	case notify.Webhook:
		return webhook.New(c.URL, c.Secret, source)
	case notify.Mail:
		return mail.New(c)
	case notify.Text:
		return text.New(c)
	case notify.MQTT:
		if broker == nil {
			return nil, errors.New("there is no broker to publish to")
		}
		return publish.Sender{Publisher: broker}, nil
	default:
		return nil, fmt.Errorf("there is no way to send called %q", c.Kind)
	}
}
