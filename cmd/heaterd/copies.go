package main

import (
	"context"
	"time"

	"heaterd/dashboards/history"
	"heaterd/dashboards/metrics"
	"heaterd/ingest/reading"
)

// openHistory makes what copies the readings to another server.
func (d *daemon) openHistory(context.Context) error {
	h := d.cfg.History
	if h == nil {
		return nil
	}
	d.history = history.New(history.Options{
		URL: h.URL, Org: h.Org, Bucket: h.Bucket, Token: h.Token,
		Log: d.store, Backlog: d.cfg.Backlog, Memory: d.store, Logger: d.log,
		Names: func(n reading.NodeID) history.Place {
			h, _ := d.watch.HeaterOf(n)
			return history.Place{Site: h.Site, Space: h.Space, Heater: h.ID}
		},
	})
	return nil
}

// copyOut copies until ctx ends. It begins once it is known where each unit
// is, for a person may have fitted it to another heater than the configured
// one.
func (d *daemon) copyOut(ctx context.Context) error {
	begin := d.watch.Ready()
	if d.history == nil {
		begin = nil
	}
	select {
	case <-ctx.Done():
		return nil
	case <-begin:
		return d.history.Run(ctx)
	}
}

// statsWait bounds how long a scrape waits for figures out of the store.
const statsWait = 2 * time.Second

func (d *daemon) sinkFigures() []metrics.Sink {
	if d.history == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), statsWait)
	defer cancel()
	s := d.history.Stats(ctx)
	return []metrics.Sink{{Name: "influx", Up: s.Up, LagRows: s.LagRows, Oldest: s.Oldest, Rejected: s.Rejected}}
}

func (d *daemon) outboxFigures() (o metrics.Outbox) {
	ctx, cancel := context.WithTimeout(context.Background(), statsWait)
	defer cancel()
	n, err := d.ledger.Waiting(ctx)
	if err != nil {
		d.log.Warn("cannot count the outbox", "err", err)
		return o
	}
	o.Pending, o.Dead = n.Pending, n.Dead
	if n.Oldest != 0 {
		o.Overdue = max(0, d.now().Sub(n.Oldest))
	}
	return o
}
