package main

import (
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"net"
	"os"
	"strconv"
	"time"

	"heaterd/alerts"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/config"
	"heaterd/dashboards/history"
	"heaterd/dashboards/metrics"
	"heaterd/ingest"
	"heaterd/ingest/broker"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/reading"
	"heaterd/ingest/source"
	"heaterd/ingest/store"
)

// daemon is the program proper, put together from its parts.
type daemon struct {
	cfg   *config.Config
	log   *slog.Logger
	clock func() time.Time
	tick  time.Duration // of the log; 0: the usual
	// outbox has the courier see the outbox by another clock; nil: as it is.
	outbox func(notify.Outbox) notify.Outbox

	held          *os.File // keeps other daemons off the store; nil: nothing does
	store         *store.Store
	broker        *broker.Broker // nil: another program's
	key           string         // the daemon's own password at the embedded broker; empty: it has no users
	sub           *mqtt.Subscriber
	ingest        *ingest.Ingest
	ledger        *ledger.Ledger
	watch         *alerts.Watch
	planner       *notify.Planner
	rota          rotaWord // of its calendar
	calendar      []byte   // that of the rota, as it was at the start; nil: there is none, or it could not be used
	courier       *notify.Courier
	words         lastWords       // of the channels
	publisher     *mqtt.Publisher // of the courier
	history       *history.Writer // nil: no copy is kept elsewhere
	metrics       *metrics.Metrics
	listen        net.Listener // of the pages
	metricsListen net.Listener // of /metrics alone; nil: it is with the pages
}

// open makes every part ready to run; close undoes it.
func (d *daemon) open(ctx context.Context) error {
	if d.clock == nil {
		d.clock = time.Now
	}
	steps := []func(context.Context) error{d.openStore, d.openBroker, d.openIngest, d.openPeople, d.openAlerts, d.openHistory, d.openPages}
	for _, step := range steps {
		if err := step(ctx); err != nil {
			return errors.Join(err, d.close())
		}
	}
	return nil
}

func (d *daemon) openStore(ctx context.Context) (err error) {
	if d.held, err = holdStore(d.cfg.Store.Path); err != nil {
		return err
	}
	d.store, err = store.Open(ctx, d.cfg.Store.Path, d.log, ledger.Migrations)
	if err != nil {
		return err
	}
	if d.store.Unclean() {
		d.log.Warn("the last stop was not clean; what was acknowledged is kept, the rest comes again")
	}
	d.store.KeepQuarantined(d.cfg.Store.Quarantine)
	d.ledger = ledger.New(d.store)
	return d.warnOfClock(ctx)
}

// warnOfClock says so where the machine's clock is behind what it wrote down
// before, as that of a board without a battery is until a time server is heard.
func (d *daemon) warnOfClock(ctx context.Context) error {
	lines, err := d.store.Lines(ctx, d.store.Last()-1, 1)
	if err != nil || len(lines) == 0 {
		return err
	}
	if behind := lines[0].At.Sub(d.now()); behind > d.cfg.Lateness {
		d.log.Warn("the clock of this machine is behind the log: set it; until then readings are taken for those of another time, and units for wrong",
			"behind", behind.Round(time.Second), "last_line", lines[0].At)
	}
	return nil
}

func (d *daemon) openBroker(ctx context.Context) (err error) {
	if d.cfg.Broker != nil {
		return nil
	}
	e := d.cfg.Embedded
	o := broker.Options{Dir: e.Dir, Host: e.Host, Port: e.Port, Sync: e.Sync, Log: d.log}
	for _, u := range e.Users {
		o.Users = append(o.Users, broker.User{Name: u.Name, Password: string(u.Password), Publish: u.Publish, Subscribe: u.Subscribe})
	}
	if len(o.Users) > 0 {
		d.key = rand.Text()
		o.Users = append(o.Users, broker.User{Name: ownUser, Password: d.key, Publish: []string{"heaterd/#"}, Subscribe: []string{"#"}})
	}
	d.broker, err = broker.Start(ctx, o)
	return err
}

// ownUser is the daemon's own name at an embedded broker that has users; its
// password is drawn anew at every start.
const ownUser = "heaterd"

// link says how the daemon reaches its broker.
func (d *daemon) link() mqtt.Link {
	l := linkTo(d.cfg, d.log)
	if d.broker != nil {
		l.URL = d.broker.URL()
	}
	if d.key != "" {
		l.Username, l.Password = ownUser, d.key
	}
	return l
}

// linkTo says how to reach the broker of a configuration, the embedded one of
// a running daemon included.
func linkTo(cfg *config.Config, log *slog.Logger) mqtt.Link {
	l := mqtt.Link{Log: log, ClientID: "heaterd", StatusTopic: "heaterd/status"}
	b := cfg.Broker
	if b == nil {
		l.URL = "tcp://" + net.JoinHostPort(cfg.Embedded.Host, strconv.Itoa(cfg.Embedded.Port))
		return l
	}
	l.URL, l.ClientID, l.Username, l.Password = b.URL, b.ClientID, b.Username, string(b.Password)
	l.TLS = mqtt.TLS{CAFile: b.CAFile, CertFile: b.CertFile, KeyFile: b.KeyFile, ServerName: b.ServerName}
	return l
}

func (d *daemon) now() reading.Instant { return reading.InstantOf(d.clock()) }

func (d *daemon) openIngest(ctx context.Context) error {
	link, filters := d.link(), filtersOf(d.cfg.Sources)
	before, err := ingest.RememberFilters(ctx, d.store, link.ClientID, filters)
	if err != nil {
		return err
	}
	d.sub = mqtt.New(mqtt.Options{Link: link, Filters: filters, Before: before, Now: d.now})
	d.metrics = d.newMetrics()
	d.ingest = ingest.New(ingest.Options{
		Messages: d.sub.Messages(), Decoder: d.cfg.Sources, Log: d.store,
		Logger: d.log, Now: d.clock, Tick: d.tick, Commits: d.metrics.Commits(),
		Listed:    func(id reading.NodeID) bool { return d.watch.Knows(id) },
		Elsewhere: d.elsewhere,
	})
	return nil
}

// elsewhere reports whether a topic tells another site than that where the node
// is. Where that is not known yet, at the start, the message is kept.
func (d *daemon) elsewhere(topic string, node reading.NodeID) bool {
	at, known := d.watch.SiteOf(node)
	return known && elsewhere(d.cfg, topic, at)
}

func filtersOf(sources source.Sources) []string {
	var out []string
	for _, s := range sources {
		out = append(out, s.Filter)
	}
	return out
}

func (d *daemon) openAlerts(ctx context.Context) error {
	d.watch = alerts.New(alerts.Options{
		Log: d.store, Growth: d.ingest, Ledger: d.ledger,
		Engine: fold.New(d.cfg.Fleet, rulesOf(d.cfg)), Logger: d.log,
		Plan: d.planner.Plan, Wake: d.courier.Wake,
	})
	return d.ledger.Place(ctx, d.now(), d.cfg.Fleet.Heaters)
}

// run works until ctx ends.
func (d *daemon) run(ctx context.Context) error {
	return runStages(ctx, d.log, d.stages())
}

// stages lists what runs; each leans on those before it.
func (d *daemon) stages() []stage {
	return []stage{
		{"courier", d.carry},
		{"rota", d.followRota},
		{"history", d.copyOut},
		{"alerts", d.watch.Run},
		{"ingest", d.ingest.Run},
		{"care", d.care},
		{"subscriber", d.sub.Run},
		{"pages", d.serve},
		{"metrics", d.serveMetrics},
		{"supervisor", d.supervise},
		{"heartbeat", d.beat},
	}
}

func (d *daemon) close() error {
	var errs []error
	for _, l := range []net.Listener{d.listen, d.metricsListen} {
		if l != nil {
			l.Close()
		}
	}
	if d.broker != nil {
		ctx, cancel := context.WithTimeout(context.Background(), stageStop)
		defer cancel()
		if err := d.broker.Close(ctx); err != nil {
			d.log.Warn("the broker did not stop in time", "err", err)
		}
	}
	if d.store != nil {
		errs = append(errs, d.store.Close())
	}
	if d.held != nil {
		errs = append(errs, d.held.Close())
	}
	return errors.Join(errs...)
}

func (d *daemon) runAndClose(ctx context.Context) error {
	return errors.Join(d.run(ctx), d.close())
}
