package main

import (
	"errors"
	"fmt"
	"net/http"
	"time"

	"heaterd/alerts/fold"
	"heaterd/dashboards"
	"heaterd/dashboards/metrics"
	"heaterd/ingest"
)

// pages is everything served over HTTP.
func (d *daemon) pages() http.Handler {
	h := &d.cfg.HTTP
	return dashboards.New(dashboards.Options{
		View: d.watch.View, Changed: d.watch.Cursor, Ledger: d.ledger, Store: d.store, Record: d.ingest.Record,
		OnCall: d.onCall, Name: d.planner.Name, Sources: d.cfg.Sources,
		Plan: d.cfg.Plan, People: len(d.cfg.Notify.People),
		Users: h.Users, Tokens: h.Tokens,
		TrustedProxies: h.TrustedProxies, ProxyHeader: h.ProxyHeader,
		Season: d.cfg.Season, LinkSecret: d.cfg.Notify.Secret, BaseURL: d.cfg.Notify.BaseURL,
		Backtest: d.backtest, Metrics: d.metrics, Checks: d.checks, Now: d.clock, Log: d.log,
	})
}

// newMetrics makes the /metrics page; it asks the parts of the daemon when it
// is scraped.
func (d *daemon) newMetrics() *metrics.Metrics {
	return metrics.New(metrics.Options{
		View:      func() fold.View { return d.watch.View() },
		Ingest:    func() ingest.Stats { return d.ingest.Stats() },
		Connected: func() bool { return d.sub.Connected() },
		Dropped:   func() int64 { return d.sub.Dropped() },
		Unclean:   func() bool { return d.store.Unclean() },
		Alerts:    d.alertFigures,
		Outbox:    d.outboxFigures,
		Sinks:     d.sinkFigures,
		Build:     metrics.Build{Version: version(), Revision: revision()},
		Logger:    d.log,
	})
}

func (d *daemon) alertFigures() metrics.Alerts {
	last, _ := d.ingest.Appended()
	return metrics.Alerts{LagRows: max(0, last-d.watch.Cursor()), Faults: d.watch.Faults(), Turned: d.watch.Beat()}
}

// checks are what must hold to be ready.
func (d *daemon) checks() []dashboards.Check {
	return []dashboards.Check{
		{Name: "store", Err: d.ingest.Healthy()},
		{Name: "broker", Err: d.sub.Healthy()},
		{Name: "alarm engine", Err: errors.Join(d.watch.Healthy(), d.caughtUp())},
		{Name: "outbox", Err: d.courier.Healthy()},
		{Name: "channels", Err: d.channelsUp()},
		{Name: "rota", Err: d.rota.healthy(d.clock())},
		{Name: "history", Err: d.historySetUp()},
	}
}

// historySetUp gives nil unless the copy elsewhere is set up wrongly; a server
// that is away is waited for.
func (d *daemon) historySetUp() error {
	if d.history == nil {
		return nil
	}
	return d.history.Healthy()
}

func (d *daemon) channelsUp() error {
	var errs []error
	if d.courier.Mute() {
		errs = append(errs, dashboards.ErrNobodyReached)
	}
	for _, h := range d.courier.Health() {
		if h.Down {
			errs = append(errs, fmt.Errorf("channel %s is down: %s", h.Channel, h.Why))
		}
	}
	return errors.Join(errs...)
}

// longestLag is how long the alarm engine may be behind the log before the
// daemon calls itself not ready: the shortest delay an alarm counts in.
const longestLag = time.Minute

func (d *daemon) caughtUp() error {
	select {
	case <-d.watch.Ready():
	default:
		return errors.New("the alarm engine is still reading the log")
	}
	if lag := d.now().Sub(d.watch.Now()); lag > longestLag && d.ingest.Healthy() == nil {
		return fmt.Errorf("the alarm engine is %v behind", lag.Round(time.Second))
	}
	return nil
}
