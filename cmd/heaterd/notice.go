package main

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
	"heaterd/ingest"
	"heaterd/ingest/record"
)

// noticeWait bounds one attempt to write down a channel's trouble; noticeTries
// are made, for the store may be what fails.
const (
	noticeWait  = 3 * time.Second
	noticeTries = 200 // ten minutes and more
)

// lastWords are what the channels said of themselves, and the turn of whoever
// writes one down: the log must end with the last.
type lastWords struct {
	last sync.Map // by channel: down
	turn sync.Mutex
}

// channelDown writes into the log that a channel stopped working, or works
// again, so that it becomes an alarm by way of another channel. The courier
// does not wait for that; it is over soon after ingest has ended, at the latest.
func (d *daemon) channelDown(channel string, down bool, why string) {
	d.words.last.Store(channel, down)
	go func() {
		n := record.Notice{About: "channel", Detail: channel, Down: down, Why: why}
		var err error
		for range noticeTries {
			if err = d.writeNotice(n); err == nil || errors.Is(err, ingest.ErrEnded) {
				return
			}
		}
		d.log.Error("cannot write down that a channel changed", "channel", channel, "down", down, "err", err)
	}()
}

// writeNotice writes a channel's word unless it said another since; that is
// being written by somebody else. It takes noticeWait where it fails.
func (d *daemon) writeNotice(n record.Notice) error {
	d.words.turn.Lock()
	defer d.words.turn.Unlock()
	if newest, _ := d.words.last.Load(n.Detail); newest != n.Down {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), noticeWait)
	defer cancel()
	_, err := d.ingest.Record(ctx, record.Line{Notice: &n})
	if err != nil && !errors.Is(err, ingest.ErrEnded) {
		<-ctx.Done()
	}
	return err
}

// forgetChannels ends what is told of channels that left the configuration:
// they will never say that they work again.
func (d *daemon) forgetChannels(ctx context.Context) error {
	alarms, err := d.ledger.Live(ctx)
	if err != nil {
		return err
	}
	for _, a := range alarms {
		named := func(c notify.Channel) bool { return c.ID == a.Detail }
		if a.Kind == alarm.ChannelDown && a.Active && !slices.ContainsFunc(d.cfg.Notify.Channels, named) {
			d.channelDown(a.Detail, false, "the configuration names no such channel any more")
		}
	}
	return nil
}
