package main

import (
	"context"
	"time"

	"heaterd/alerts"
	"heaterd/dashboards"
	"heaterd/dashboards/history"
	"heaterd/dashboards/metrics"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// openHistory makes what copies the readings to another server.
func (d *daemon) openHistory(context.Context) error {
	h := d.cfg.History
	if h == nil {
		return nil
	}
	d.history = history.New(history.Options{
		URL: h.URL, Org: h.Org, Bucket: h.Bucket, Token: h.Token,
		Log: foldedLog{d.store, d.watch}, Backlog: d.cfg.Backlog, Memory: d.store, Logger: d.log, Places: d.places,
	})
	return nil
}

// foldedLog is the log as far as the alarm loop has followed it: what people
// said up to there of where the nodes are is written down.
type foldedLog struct {
	*store.Store
	watch *alerts.Watch
}

// Lines gives up to limit lines above id after, in order.
func (l foldedLog) Lines(ctx context.Context, after int64, limit int) ([]record.Line, error) {
	end := l.watch.Cursor()
	lines, err := l.Store.Lines(ctx, after, limit)
	for len(lines) > 0 && lines[len(lines)-1].ID > end {
		lines = lines[:len(lines)-1]
	}
	return lines, err
}

// places finds out where every node was.
func (d *daemon) places(ctx context.Context) (history.Places, error) {
	w, err := dashboards.FindWhereabouts(ctx, d.ledger, d.watch.View())
	return func(node reading.NodeID, at reading.Instant) history.Place {
		heater, p := w.At(node, at)
		return history.Place{Site: p.Site, Space: p.Space, Heater: heater}
	}, err
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
	s := d.history.Stats()
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
