package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"heaterd/alerts/alarm"
	"heaterd/alerts/notify"
	"heaterd/config"
	"heaterd/ingest/jobsite"
	"heaterd/ingest/mqtt"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// demoPast is how much of the model's past is there when the pages open, so
// that a heater's last day is drawn from the start.
const demoPast = 8 * time.Hour

// Bounds of the demo's pace: slower it seems to stand still, faster its own
// timers do not follow.
const (
	slowest = 0.01
	fastest = 3600.0
)

// demoOptions are what the command line says.
type demoOptions struct {
	listen string
	span   time.Duration
	speed  float64
	seed   uint64
	past   time.Duration
}

func demoCommand(std streams) *cobra.Command {
	var o demoOptions
	c := &cobra.Command{
		Use:   "demo",
		Short: "show everything at work on invented jobsites, in one process",
		Long: `Starts a broker, three invented jobsites with a dozen heaters that publish over
real MQTT from a physical model, and the daemon proper with all its pages. No
file is needed and none is left behind. The model first runs through some
hours of the past, then goes on N times faster than the clock.`,
		Example: "  heaterd demo\n  heaterd demo --for 30s --speed 300 --listen 127.0.0.1:9090",
		Args:    noArguments,
		RunE: func(c *cobra.Command, _ []string) error {
			if !(o.speed >= slowest && o.speed <= fastest) { // so that what is no number is refused too
				return fmt.Errorf("--speed is %g, allowed: %g to %g", o.speed, slowest, fastest)
			}
			if _, _, err := net.SplitHostPort(o.listen); err != nil {
				return fmt.Errorf("--listen is %q, allowed: HOST:PORT, such as 127.0.0.1:9090", o.listen)
			}
			if o.past < 0 {
				return fmt.Errorf("--past is %s, allowed: 0s and more", o.past)
			}
			ctx, cancel := bounded(c.Context(), o.span)
			defer cancel()
			return failure(demo(ctx, o, std))
		},
	}
	c.Flags().StringVar(&o.listen, "listen", "127.0.0.1:0", "`HOST:PORT` of the pages")
	c.Flags().DurationVar(&o.span, "for", 0, "stop by itself after this long")
	c.Flags().Float64Var(&o.speed, "speed", 60, "run the model `N` times faster than the clock")
	c.Flags().Uint64Var(&o.seed, "seed", 1, "another number makes another course of events")
	c.Flags().DurationVar(&o.past, "past", demoPast, "how much of the model's past to run through first")
	return c
}

// demo runs the daemon on invented jobsites until ctx ends.
func demo(ctx context.Context, o demoOptions, std streams) error {
	dir, err := os.MkdirTemp("", "heaterd-demo-")
	if err != nil {
		return fmt.Errorf("cannot make a folder for the demo: %w", err)
	}
	defer os.RemoveAll(dir)
	s := newStagecraft(o)
	world, err := jobsite.NewWorld(jobsite.Demo(o.seed, s.now()))
	if err != nil {
		return err
	}
	p, err := openPhones(ctx, s.clock)
	if err != nil {
		return unlessStopped(ctx, err)
	}
	defer p.listen.Close()
	cfg, err := demoConfig(ctx, world, dir, o.listen, p)
	if err != nil {
		return unlessStopped(ctx, err)
	}
	log := logger(std, config.Log{Level: "warn"})
	d := &daemon{cfg: cfg, log: log, clock: s.clock, tick: demoTick, outbox: s.outbox}
	if err := d.open(ctx); err != nil {
		return unlessStopped(ctx, err)
	}
	fmt.Fprintf(std.out, "heaterd demo: %d invented heaters on %d jobsites, %g times faster than the clock\n  pages    %s/\n  phones   %s\n  metrics  %s/metrics\n  broker   %s\n",
		len(cfg.Fleet.Heaters), len(cfg.Fleet.Sites), o.speed, d.address(), p.address(), d.address(), d.broker.URL())
	fmt.Fprintln(std.out, demoAdvice)
	stages := slices.Concat([]stage{{"phones", func(ctx context.Context) error { return d.serveAt(ctx, p.listen, p) }}}, d.stages(),
		[]stage{{"jobsites", func(ctx context.Context) error { return s.play(ctx, world, d) }}})
	return errors.Join(runStages(ctx, log, stages), d.close())
}

const demoAdvice = `What to look at: the fleet page lists what needs a person now; a heater's page
draws its flame with why each burn ended; the alarms page acknowledges them;
phones shows what the people on call are sent.
Press Ctrl-C to stop. Nothing here is a real site, and nothing commands a heater.`

// demoTick is often enough that the log's time does not lag the model's.
const demoTick = 250 * time.Millisecond

func demoConfig(ctx context.Context, w *jobsite.World, dir, listen string, p *phones) (*config.Config, error) {
	listen, err := free(ctx, listen)
	if err != nil {
		return nil, err
	}
	cfg, err := config.Parse("demo.yaml", []byte(w.FleetYAML()), config.Options{Dir: dir})
	if err != nil {
		return nil, err
	}
	cfg.Store.Path = filepath.Join(dir, "heaterd.db")
	cfg.Embedded.Dir, cfg.Embedded.Port = filepath.Join(dir, "broker"), 0
	cfg.HTTP.Listen = listen
	demoCrew(&cfg.Notify, p.channel())
	p.zone = cfg.Notify.Rota.Zone
	cfg.Notify.BaseURL, cfg.Notify.Secret = "http://"+listen, make([]byte, 32)
	_, err = rand.Read(cfg.Notify.Secret)
	return cfg, err
}

// free gives the address that the pages will have, for the links in messages.
func free(ctx context.Context, listen string) (string, error) {
	l, err := listenAt(ctx, listen)
	if err != nil {
		return "", fmt.Errorf("cannot listen for the pages: %w", err)
	}
	return l.Addr().String(), l.Close()
}

// demoCrew puts two invented people on call, a week each, whom one channel
// reaches.
func demoCrew(s *notify.Settings, c notify.Channel) {
	s.Channels = []notify.Channel{c}
	for _, name := range []string{"Robin", "Sam"} {
		s.People = append(s.People, notify.Person{ID: strings.ToLower(name), Name: name, Channels: []string{c.ID}, Address: "000 000"})
	}
	s.Rota.Turns, s.Rota.Begins, s.Rota.HandOver = []string{"robin", "sam"}, "2024-01-01", 8*time.Hour
	s.Steps = []notify.Step{{Who: "on-call"}, {After: 10 * time.Minute, Who: "next"}, {After: 20 * time.Minute, Who: "everyone"}}
	s.Fallback = "robin"
}

// stagecraft plays the model's time: the daemon's clock stands where the model
// stands, for the daemon must not see readings from its future.
type stagecraft struct {
	o    demoOptions
	at   atomic.Int64 // model's time, µs
	end  reading.Instant
	sent int64           // messages published
	seen reading.Instant // when the technician of the past last looked

	posted reading.Instant // when messages were last looked for
}

func newStagecraft(o demoOptions) *stagecraft {
	s := &stagecraft{o: o, end: reading.InstantOf(time.Now().Truncate(time.Minute))}
	s.at.Store(int64(s.end.Add(-o.past)))
	return s
}

func (s *stagecraft) now() reading.Instant { return reading.Instant(s.at.Load()) }

func (s *stagecraft) clock() time.Time { return s.now().Time() }

// outbox has the courier live by the model's time.
func (s *stagecraft) outbox(o notify.Outbox) notify.Outbox {
	return paced{Outbox: o, now: s.now, speed: s.o.speed}
}

// demoStep is how far the model moves at a time.
const demoStep = 10 * time.Second

// play publishes what the jobsites say: the past as fast as it goes, then at
// the asked speed.
func (s *stagecraft) play(ctx context.Context, w *jobsite.World, d *daemon) error {
	link := d.link()
	link.ClientID = "jobsites"
	p := mqtt.NewPublisher(link)
	defer p.Close()
	select {
	case <-d.sub.Ready():
	case <-ctx.Done():
		return nil
	}
	pace := time.NewTicker(time.Duration(float64(demoStep) / s.o.speed))
	defer pace.Stop()
	for ctx.Err() == nil {
		if err := s.act(ctx, w, d, p); err != nil && ctx.Err() == nil {
			return err
		}
		s.await(ctx, d)
		if err := s.post(ctx, d); err != nil {
			return err
		}
		if err := s.answer(ctx, d); err != nil {
			return err
		}
		if s.now() < s.end {
			continue
		}
		select {
		case <-pace.C:
		case <-ctx.Done():
		}
	}
	return nil
}

// act moves the model one step and sends what came of it.
func (s *stagecraft) act(ctx context.Context, w *jobsite.World, d *daemon, p *mqtt.Publisher) error {
	messages := w.Step(demoStep)
	s.at.Store(int64(w.Now()))
	for _, m := range messages {
		if err := p.Publish(ctx, m.Topic(), m.Payload(), m.Status != ""); err != nil {
			return fmt.Errorf("the jobsites cannot publish: %w", err)
		}
		s.sent++
	}
	for _, a := range w.Acts() {
		if _, err := d.ingest.Record(ctx, record.Line{At: a.At, Entry: a.Entry, Stop: a.Stop}); err != nil {
			return err
		}
	}
	return nil
}

// demoRounds is how often the technician of the past answers what is over.
const demoRounds = time.Hour

// answer lets an invented technician acknowledge what the past left behind,
// except for the air: that is for whoever tries the demo.
func (s *stagecraft) answer(ctx context.Context, d *daemon) error {
	if s.now() >= s.end || s.now().Sub(s.seen) < demoRounds {
		return nil
	}
	s.seen = s.now()
	for _, a := range d.watch.View().Alarms {
		if a.State != alarm.Returned || a.Kind.ConcernsPeople() {
			continue
		}
		l := record.Line{Answer: &record.Answer{
			Act: record.Acknowledge, Alarm: a.ID, By: "Demo technician", Role: "technician", From: "demo",
		}}
		if _, err := d.ingest.Record(ctx, l); err != nil && ctx.Err() == nil {
			return err
		}
	}
	return nil
}

// Messages are looked for once a minute of the model's time, and its past
// waits for them so long of the clock's at most.
const (
	demoPost     = time.Minute
	demoPostWait = 200 * time.Millisecond
)

// post has the courier look for what is due. The past, which runs through
// faster than anybody could answer, waits until that is handed over.
func (s *stagecraft) post(ctx context.Context, d *daemon) error {
	if s.now().Sub(s.posted) < demoPost {
		return nil
	}
	s.posted = s.now()
	d.courier.Wake()
	if s.now() >= s.end {
		return nil
	}
	return s.awaitPost(ctx, d)
}

func (s *stagecraft) awaitPost(ctx context.Context, d *daemon) error {
	t := time.NewTicker(time.Millisecond)
	defer t.Stop()
	for begun := time.Now(); time.Since(begun) < demoPostWait && ctx.Err() == nil; <-t.C {
		w, err := d.ledger.Waiting(ctx)
		if err != nil && ctx.Err() == nil {
			return err
		}
		if w.Oldest == 0 || w.Oldest > s.now() {
			break
		}
	}
	return nil
}

// underWay is how many messages may be between the jobsites and the log.
const underWay = 100

// await keeps the model's time from running ahead of what the daemon has
// heard: it would take the difference for silence.
func (s *stagecraft) await(ctx context.Context, d *daemon) {
	t := time.NewTicker(time.Millisecond)
	defer t.Stop()
	for s.sent-d.ingest.Stats().Messages > underWay && ctx.Err() == nil {
		<-t.C
	}
}
