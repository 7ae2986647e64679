package publish_test

import (
	"context"
	"errors"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/publish"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/mqtt/mqtttest"
)

// A sounder that connects only afterwards finds how things are.
func TestStateIsThereForWhoComesLater(t *testing.T) {
	broker := mqtttest.StartMosquitto(t)
	pub := mqtt.NewPublisher(mqtt.Link{URL: broker.URL(), ClientID: "daemon"})
	t.Cleanup(func() { pub.Close() })
	ctx, done := context.WithTimeout(t.Context(), 20*time.Second)
	defer done()
	s := publish.Sender{Publisher: pub}
	topic := "heaterd/sites/quay/spaces/hall/alarm"
	for _, m := range []notify.Message{
		{Kind: notify.State, Topic: topic, Text: `{"state":"unacknowledged"}`},
		{Kind: notify.State, Topic: topic, Text: `{"state":"normal"}`},
		{Kind: notify.Trial, Topic: "heaterd/sites/test/spaces/test/alarm", Text: `{}`},
	} {
		if err := s.Send(ctx, m); err != nil {
			t.Fatal(err)
		}
	}
	got := listen(t, broker.URL())
	select {
	case m := <-got:
		if m.Topic() != topic || string(m.Payload()) != `{"state":"normal"}` || !m.Retained() {
			t.Errorf("%s: %s, retained %v", m.Topic(), m.Payload(), m.Retained())
		}
	case <-ctx.Done():
		t.Fatal("nothing arrived")
	}
	select {
	case m := <-got:
		t.Errorf("and %s: %s", m.Topic(), m.Payload())
	case <-time.After(200 * time.Millisecond):
	}
}

func listen(t *testing.T, url string) <-chan paho.Message {
	t.Helper()
	got := make(chan paho.Message, 8)
	c := paho.NewClient(paho.NewClientOptions().AddBroker(url).SetClientID("sounder"))
	if token := c.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	t.Cleanup(func() { c.Disconnect(100) })
	token := c.Subscribe("heaterd/#", 1, func(_ paho.Client, m paho.Message) { got <- m })
	if !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	return got
}

type broken struct{}

func (broken) Publish(context.Context, string, []byte, bool) error { return errors.New("no broker") }

func TestFailureIsWorthAnotherAttempt(t *testing.T) {
	err := publish.Sender{Publisher: broken{}}.Send(t.Context(), notify.Message{Kind: notify.State})
	if err == nil || notify.IsPermanent(err) {
		t.Errorf("%v", err)
	}
}
