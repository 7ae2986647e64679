package main

import (
	"context"
	"log/slog"
	"os"
	"os/signal"
	"syscall"
	"time"

	systemd "github.com/coreos/go-systemd/v22/daemon"
	"github.com/spf13/cobra"

	"heaterd/config"
	"heaterd/ingest/mqtt"
)

func runCommand(env lookup, std streams) *cobra.Command {
	var file string
	c := &cobra.Command{
		Use:   "run --config FILE",
		Short: "run the daemon",
		Long: `Runs the daemon until it is told to stop. A first interrupt or termination
signal lets it finish what it holds, in under ten seconds; a second ends it at
once, which loses nothing that the broker was told is kept. A hang-up signal
makes it read its configuration again.`,
		Example: "  heaterd run --config /etc/heaterd/heaterd.yaml",
		Args:    noArguments,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := ready(file, env)
			if err != nil {
				return err
			}
			return failure(runDaemon(c.Context(), cfg, func() (*config.Config, error) { return successor(file, env) }, std))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	require(c, "config")
	return c
}

// ready loads a configuration that can be run: its secrets are there too.
func ready(file string, env lookup) (*config.Config, error) {
	cfg, err := config.Load(file, env)
	if err != nil {
		return nil, err
	}
	return cfg, cfg.Ready()
}

// successor loads a configuration that can take the place of one that runs: what
// secures its connections can be used too.
func successor(file string, env lookup) (*config.Config, error) {
	cfg, err := ready(file, env)
	if err != nil {
		return nil, err
	}
	return cfg, cfg.Fit()
}

// runDaemon runs until ctx ends. On a hang-up signal it reads the
// configuration again: a bad one changes nothing and says why; a good one
// takes the place of the old by an orderly stop and start, in which the
// broker keeps what arrives and the engine its memory. Where the start fails,
// by an address that is in use for instance, the old one starts again. The
// service manager hears which of the two it is: after the word of a stop it
// would end the process.
func runDaemon(ctx context.Context, cfg *config.Config, reload func() (*config.Config, error), std streams) error {
	begun := time.Now()
	hangups := make(chan os.Signal, 1)
	signal.Notify(hangups, syscall.SIGHUP)
	defer signal.Stop(hangups)
	var worked *config.Config // the last that came to run
	for {
		log := logger(std, cfg.Log)
		opened, next, err := runUntilReload(ctx, cfg, hangups, reload, log)
		if opened {
			worked = cfg
		}
		switch {
		case next != nil:
			if err != nil {
				log.Error("the daemon did not stop well before its new configuration", "err", err)
			}
			cfg = next
		case err != nil && !opened && worked != nil && worked != cfg:
			log.Error("the daemon does not start with the new configuration; the old one is used again", "err", err)
			cfg = worked
		default:
			if err == nil {
				log.Info("heaterd stopped", "uptime", time.Since(begun).Round(time.Second))
			}
			return err
		}
	}
}

// runUntilReload runs until ctx ends or there is a next configuration. It
// reports whether it came to run at all.
func runUntilReload(ctx context.Context, cfg *config.Config, hangups chan os.Signal, reload func() (*config.Config, error), log *slog.Logger) (
	opened bool, next *config.Config, err error) {
	quiet := context.AfterFunc(ctx, func() { tellManager(log, systemd.SdNotifyStopping) })
	defer quiet()
	read := make(chan *config.Config, 1)
	run, stop := context.WithCancel(ctx)
	defer stop()
	go await(run, hangups, reload, log, func(c *config.Config) {
		tellManager(log, systemd.SdNotifyReloading+"\n"+systemd.SdNotifyMonotonicUsec())
		read <- c
		stop()
	})
	opened, err = runOnce(run, cfg, log)
	select {
	case next = <-read:
	default:
	}
	return opened, next, err
}

// await waits for a hang-up that brings a good configuration. One that the end
// of ctx overtakes is left for whoever runs next, if anybody does.
func await(ctx context.Context, hangups chan os.Signal, reload func() (*config.Config, error), log *slog.Logger, take func(*config.Config)) {
	for {
		var hangup os.Signal
		select {
		case <-ctx.Done():
			return
		case hangup = <-hangups:
		}
		cfg, err := reload()
		if ctx.Err() != nil {
			putBack(hangups, hangup)
			return
		}
		if err != nil {
			log.Error("the new configuration is not used; the old one stays in force", "err", err)
			continue
		}
		log.Info("the configuration is read again")
		take(cfg)
		return
	}
}

// putBack leaves a hang-up where it was, unless another came meanwhile.
func putBack(hangups chan os.Signal, one os.Signal) {
	select {
	case hangups <- one:
	default:
	}
}

// runOnce runs until ctx ends; opened is false where it did not come to that.
func runOnce(ctx context.Context, cfg *config.Config, log *slog.Logger) (opened bool, err error) {
	for _, w := range cfg.Warnings {
		log.Warn("doubtful configuration", "where", w.String())
	}
	mqtt.LogTo(log)
	d := &daemon{cfg: cfg, log: log}
	if err := d.open(ctx); err != nil {
		return false, unlessStopped(ctx, err)
	}
	log.Info("heaterd runs", "version", version(), "pages", d.address(), "heaters", len(cfg.Fleet.Heaters))
	return true, d.runAndClose(ctx)
}

// unlessStopped gives why something could not begin; nil where it was told to
// stop meanwhile, for that is no failure.
func unlessStopped(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// logger writes to standard error as the configuration says.
func logger(std streams, l config.Log) *slog.Logger {
	var level slog.Level
	if err := level.UnmarshalText([]byte(l.Level)); err != nil {
		level = slog.LevelInfo
	}
	o := &slog.HandlerOptions{Level: level}
	if l.Format == "json" {
		return slog.New(slog.NewJSONHandler(std.err, o))
	}
	return slog.New(slog.NewTextHandler(std.err, o))
}
