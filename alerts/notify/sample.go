package notify

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

// sample is a message to try a channel with, to a person by id, or, where that
// is empty, to the first who has the channel. It tells a channel that does not
// exist.
func (p *Planner) sample(channel, to string, now time.Time) (Message, error) {
	c, ok := p.channel(channel)
	if !ok {
		return Message{}, fmt.Errorf("there is no channel %q", channel)
	}
	m := Message{
		ID:   jobID(string(Trial), channel, to, strconv.FormatInt(now.UnixNano(), 10)),
		Kind: Trial, At: reading.InstantOf(now), Channel: channel, Priority: alarm.Low, Link: p.page(),
		Subject: "heaterd: test of " + channel,
		Short:   "heaterd: this is a test. Nothing is wrong, nothing needs doing.",
	}
	m.Text = "This is a test of the channel " + channel + ". Nothing is wrong, and nothing needs doing.\n"
	m.HTML = htmlOf(m.Subject, []string{m.Short}, "See the page of alarms", m.Link)
	if c.Kind == MQTT {
		m.Topic = c.TopicOf(Place{Site: "test", Space: "test"})
		m.Text = string(mustJSON(SpaceState{At: m.At, State: alarm.Normal, Text: m.Short}))
	}
	for _, person := range p.settings.People {
		if slices.Contains(person.Channels, channel) && (to == "" || to == person.ID) {
			m.Person, m.Name, m.Language, m.Address = person.ID, person.Name, person.Language, person.AddressOn(channel)
			break
		}
	}
	return m, nil
}

// Test sends a test message on a channel now, to a person by id or to the first
// who has it, past the outbox, and gives what it sent. Success takes a channel
// up again that was gone or paused.
func (c *Courier) Test(ctx context.Context, channel, to string) (Message, error) {
	m, err := c.o.Planner.sample(channel, to, time.Now())
	if err != nil {
		return m, err
	}
	sender := c.o.Senders[channel]
	if sender == nil {
		return m, fmt.Errorf("cannot test %s: it cannot send", channel)
	}
	ctx, done := context.WithTimeout(ctx, attempt)
	defer done()
	err = sender.Send(ctx, m)
	c.note(channel, err)
	if err != nil {
		return m, fmt.Errorf("cannot send a test on %s: %w", channel, err)
	}
	return m, nil
}
