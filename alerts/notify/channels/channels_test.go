package channels_test

import (
	"context"
	"strings"
	"testing"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/channels"
)

type broker struct{}

func (broker) Publish(context.Context, string, []byte, bool) error { return nil }

func TestEveryKindHasASender(t *testing.T) {
	s := notify.Settings{Channels: []notify.Channel{
		{ID: "a", Kind: notify.Webhook, URL: "https://example.org"},
		{ID: "b", Kind: notify.Mail, URL: "smtps://example.org", From: "a@example.org"},
		{ID: "c", Kind: notify.Text, URL: "https://example.org", Template: "{{.Short}}"},
		{ID: "d", Kind: notify.MQTT, Topic: "t"},
	}}
	if got, err := channels.Open(s, broker{}); err != nil || len(got) != 4 {
		t.Errorf("%v %v", got, err)
	}
	s.Channels[0].Secret = []byte("not a key")
	s.Channels = append(s.Channels, notify.Channel{ID: "e", Kind: "pigeon"})
	got, err := channels.Open(s, nil)
	if len(got) != 2 || err == nil {
		t.Fatalf("%v %v", got, err)
	}
	for _, id := range []string{"channel a", "channel d", "channel e"} {
		if !strings.Contains(err.Error(), id) {
			t.Errorf("%v does not name %s", err, id)
		}
	}
}
