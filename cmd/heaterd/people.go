package main

import (
	"context"
	"fmt"
	"time"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/webhook"
	"heaterd/ingest/record"
)

// openPeople makes what brings alarms to people.
func (d *daemon) openPeople(context.Context) error {
	s := d.cfg.Notify
	d.planner = notify.New(s, d.cfg.Fleet, nil)
	senders, err := d.senders(s)
	if err != nil {
		return err
	}
	d.courier = notify.NewCourier(notify.Options{
		Planner: d.planner, Outbox: d.ledger, Senders: senders, Down: d.channelDown, Logger: d.log,
	})
	return nil
}

// senders makes one sender for each channel.
func (d *daemon) senders(s notify.Settings) (map[string]notify.Sender, error) {
	all := map[string]notify.Sender{}
	for _, c := range s.Channels {
		one, err := d.sender(c, s)
		if err != nil {
			return nil, fmt.Errorf("channel %s: %w", c.ID, err)
		}
		all[c.ID] = one
	}
	return all, nil
}

func (d *daemon) sender(c notify.Channel, s notify.Settings) (notify.Sender, error) {
	switch c.Kind {
	case "webhook":
		return webhook.New(c.URL, c.Secret, s.BaseURL)
	}
	return nil, fmt.Errorf("there is no way to send by %q", c.Kind)
}

// noticeWait bounds how long a channel's trouble may take to reach the log.
const noticeWait = 10 * time.Second

// channelDown writes into the log that a channel stopped working, or works
// again, so that it becomes an alarm by way of another channel.
func (d *daemon) channelDown(channel string, down bool, why string) {
	go func() {
		ctx, cancel := context.WithTimeout(context.Background(), noticeWait)
		defer cancel()
		n := record.Notice{About: "channel", Detail: channel, Down: down, Why: why}
		if _, err := d.ingest.Record(ctx, record.Line{Notice: &n}); err != nil {
			d.log.Error("cannot write down that a channel changed", "channel", channel, "down", down, "err", err)
		}
	}()
}
