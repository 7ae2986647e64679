package main

import (
	"context"
	"fmt"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/channels"
	"heaterd/alerts/notify/heartbeat"
	"heaterd/alerts/notify/rotafile"
	"heaterd/ingest/mqtt"
)

// openPeople makes what brings alarms to people.
func (d *daemon) openPeople(ctx context.Context) error {
	s := d.cfg.Notify
	d.planner = notify.New(s, d.cfg.Fleet, nil)
	if err := d.setDuty(ctx); err != nil {
		return err
	}
	link := d.link()
	link.ClientID += "-alarms"
	d.publisher = mqtt.NewPublisher(link)
	senders, err := channels.Open(s, d.publisher)
	if err != nil {
		return err
	}
	var outbox notify.Outbox = d.ledger
	if d.outbox != nil {
		outbox = d.outbox(outbox)
	}
	d.courier = notify.NewCourier(notify.Options{
		Planner: d.planner, Outbox: outbox, Senders: senders, Down: d.channelDown, Logger: d.log,
	})
	return nil
}

// setDuty says who is on call: by turns for good, by a calendar as it is now.
// Where a calendar cannot be had, or is none, what it said last counts, before
// a reload or a start; without that the fallback is on call until it is one:
// alarms without the rota are better than none.
func (d *daemon) setDuty(ctx context.Context) error {
	s := d.cfg.Notify
	if s.Rota.Calendar == "" && len(s.Rota.Turns) == 0 {
		return nil
	}
	if s.Rota.Calendar == "" {
		return d.useRota(nil)
	}
	body, err := rotafile.Fetch(ctx, s.Rota.Calendar)
	if err == nil {
		err = d.useCalendar(ctx, body)
	}
	d.rota.says(err, d.clock())
	switch {
	case err == nil:
		d.calendar = body
	case d.useRota(lastCalendar(ctx, d.store, s.Rota.Calendar)) == nil:
		d.log.Error("who is on call goes by what the calendar said before", "err", err)
	default:
		d.log.Error("the fallback is on call until the calendar can be read", "err", err)
	}
	return nil
}

// useCalendar goes by a calendar from now on, and remembers it.
func (d *daemon) useCalendar(ctx context.Context, body []byte) error {
	if err := d.useRota(body); err != nil {
		return err
	}
	if err := keepCalendar(ctx, d.store, d.cfg.Notify.Rota.Calendar, body); err != nil {
		d.log.Warn("what the calendar says is not known after a start while it cannot be read", "err", err)
	}
	return nil
}

func (d *daemon) useRota(calendar []byte) error {
	r, strangers, err := notify.NewRota(d.cfg.Notify, calendar)
	if err != nil {
		return err
	}
	if len(strangers) > 0 {
		d.log.Warn("the calendar names people nobody knows; they count for nothing", "events", strangers)
	}
	d.planner.SetDuty(r)
	return nil
}

// followRota reads the calendar again and again.
func (d *daemon) followRota(ctx context.Context) error {
	if d.cfg.Notify.Rota.Calendar == "" {
		<-ctx.Done()
		return nil
	}
	use := func(body []byte) error { return d.useCalendar(ctx, body) }
	return rotafile.Follow(ctx, d.cfg.Notify.Rota.Calendar, rotafile.Every, d.calendar, use, func(err error) { d.rota.says(err, d.clock()) }, d.log)
}

// carry sends what the outbox holds.
func (d *daemon) carry(ctx context.Context) error {
	defer d.publisher.Close()
	if err := d.forgetChannels(ctx); err != nil {
		d.log.Warn("alarms of channels that left the configuration stay", "err", err)
	}
	return d.courier.Run(ctx)
}

// beat tells a watcher outside that the daemon is well, from when it has begun.
func (d *daemon) beat(ctx context.Context) error {
	h := d.cfg.Heartbeat
	if h == nil {
		<-ctx.Done()
		return nil
	}
	d.awaitStart(ctx)
	return heartbeat.Run(ctx, h.URL, h.Every, d.well, d.log)
}

// well gives nil when every check holds.
func (d *daemon) well() error {
	for _, c := range d.checks() {
		if c.Err != nil {
			return fmt.Errorf("%s: %w", c.Name, c.Err)
		}
	}
	return nil
}
