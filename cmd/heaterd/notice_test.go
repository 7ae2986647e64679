package main

import (
	"context"
	"testing"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/ingest"
	"heaterd/ingest/record"
)

// noticing is a daemon that can write notices down, and its last line.
func noticing(t *testing.T) (d *daemon, last int64) {
	t.Helper()
	d, _ = careDaemon(t)
	d.ingest = ingest.New(ingest.Options{Log: d.store, Logger: silent, Now: d.clock})
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- d.ingest.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return d, d.store.Last()
}

// notices gives the n notices that are written after a line.
func notices(t *testing.T, d *daemon, after int64, n int) (all []record.Notice) {
	t.Helper()
	for len(all) < n {
		if _, err := d.ingest.Await(t.Context(), after); err != nil {
			t.Fatal(err)
		}
		lines, err := d.store.Lines(t.Context(), after, 100)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range lines {
			after = l.ID
			if l.Notice != nil {
				all = append(all, *l.Notice)
			}
		}
	}
	return all
}

// A channel that left the configuration will never say that it works again.
func TestAChannelThatIsGoneRingsNoMore(t *testing.T) {
	d, last := noticing(t)
	d.cfg.Notify.Channels = []notify.Channel{{ID: "phones"}}
	var rung []alarm.Alarm
	for _, id := range []string{"phones", "pager"} {
		rung = append(rung, alarm.Alarm{ID: id, Key: alarm.Key{Kind: alarm.ChannelDown, Detail: id}, N: 1, Seq: 1, Active: true})
	}
	if err := d.ledger.Commit(t.Context(), ledger.Batch{Alarms: rung}); err != nil {
		t.Fatal(err)
	}
	if err := d.forgetChannels(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := notices(t, d, last, 1)[0]; got.Detail != "pager" || got.Down {
		t.Errorf("%+v", got)
	}
}

// Whoever comes to write a word down after another was said writes nothing, so
// that the log ends with the last.
func TestALaterWordOfAChannelStands(t *testing.T) {
	d, last := noticing(t)
	d.words.last.Store("phones", true)
	for _, down := range []bool{false, true} {
		if err := d.writeNotice(record.Notice{About: "channel", Detail: "phones", Down: down}); err != nil {
			t.Fatal(err)
		}
	}
	if got := notices(t, d, last, 1); len(got) != 1 || !got[0].Down {
		t.Errorf("%+v", got)
	}
}
