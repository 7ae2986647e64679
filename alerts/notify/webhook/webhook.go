package webhook

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/httpsend"
)

// Sender sends to one address.
type Sender struct {
	url, source string
	keys        [][]byte
	client      *http.Client
}

// New makes a Sender that posts to url, signed with the keys in secret (see
// Keys; without any, unsigned). source names the daemon, by its base URL;
// empty: heaterd.
func New(url string, secret []byte, source string) (*Sender, error) {
	keys, err := Keys(secret)
	if err != nil {
		return nil, err
	}
	return &Sender{url: url, source: cmp.Or(source, "heaterd"), keys: keys, client: httpsend.Client()}, nil
}

// Send posts the message. See httpsend.Do for its errors.
func (s *Sender) Send(ctx context.Context, m notify.Message) error {
	body, err := encode(event(s.source, m))
	if err != nil {
		return notify.Permanent(fmt.Errorf("cannot write the event: %w", err))
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, s.url, bytes.NewReader(body))
	if err != nil {
		return notify.Permanent(fmt.Errorf("cannot make the request: %w", err))
	}
	s.head(req, m.ID, body, time.Now())
	return httpsend.Do(s.client, req)
}

func (s *Sender) head(req *http.Request, id string, body []byte, at time.Time) {
	req.Header.Set("Content-Type", "application/cloudevents+json; charset=utf-8")
	req.Header.Set("webhook-id", id)
	req.Header.Set("webhook-timestamp", strconv.FormatInt(at.Unix(), 10))
	if signature := sign(s.keys, id, at, body); signature != "" {
		req.Header.Set("webhook-signature", signature)
	}
}
