package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	systemd "github.com/coreos/go-systemd/v22/daemon"

	"heaterd/ingest/record"
)

const (
	careEvery  = 5 * time.Second
	beatLate   = 2 * time.Minute  // the engine turns every tick, 15 s, the courier every minute; twice the slower is a standstill
	firstWords = 10 * time.Second // how long start-up waits for the broker before it calls itself started
)

// supervise tells the service manager that the daemon started and that its
// loops still turn, and writes into the log that the store failed, once it
// works again.
func (d *daemon) supervise(ctx context.Context) error {
	d.awaitStart(ctx)
	tellManager(d.log, systemd.SdNotifyReady)
	t := time.NewTicker(careEvery)
	defer t.Stop()
	var trouble error
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		if d.turning() == nil {
			tellManager(d.log, systemd.SdNotifyWatchdog)
		}
		trouble = d.noteStore(ctx, trouble)
	}
}

func (d *daemon) awaitStart(ctx context.Context) {
	limit := time.NewTimer(firstWords)
	defer limit.Stop()
	for _, ready := range []<-chan struct{}{d.watch.Ready(), d.sub.Ready()} {
		select {
		case <-ready:
		case <-limit.C:
			return
		case <-ctx.Done():
			return
		}
	}
}

func tellManager(log *slog.Logger, word string) {
	if _, err := systemd.SdNotify(false, word); err != nil {
		log.Warn("cannot reach the service manager", "err", err)
	}
}

// turning gives nil while the loops turn. While the store fails nothing turns
// and a restart would not help.
func (d *daemon) turning() error {
	if d.ingest.Healthy() != nil {
		return nil
	}
	return errors.Join(turned("the alarm engine", d.watch.Beat()), turned("the courier", d.courier.Beat()))
}

// turned gives nil if a loop has turned lately.
func turned(loop string, last time.Time) error {
	if late := time.Since(last); late > beatLate {
		return fmt.Errorf("%s has not turned for %v", loop, late.Round(time.Second))
	}
	return nil
}

// noteStore remembers why the store fails, and writes it down once it works
// again: the failure, then the recovery.
func (d *daemon) noteStore(ctx context.Context, before error) error {
	now := errors.Join(d.ingest.Healthy(), d.watch.Healthy())
	if now != nil || before == nil {
		return now
	}
	for _, n := range []record.Notice{{About: "store", Down: true, Why: before.Error()}, {About: "store"}} {
		if _, err := d.ingest.Record(ctx, record.Line{Notice: &n}); err != nil {
			return before
		}
	}
	return nil
}
