package main

import (
	"context"
	"log/slog"

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
once, which loses nothing that the broker was told is kept.`,
		Example: "  heaterd run --config /etc/heaterd/heaterd.yaml",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := config.Load(file, env)
			if err != nil {
				return err
			}
			if err := cfg.Ready(); err != nil {
				return err
			}
			return failure(runDaemon(c.Context(), cfg, logger(std, cfg.Log)))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	require(c, "config")
	return c
}

func runDaemon(ctx context.Context, cfg *config.Config, log *slog.Logger) error {
	for _, w := range cfg.Warnings {
		log.Warn("doubtful configuration", "where", w.String())
	}
	mqtt.LogTo(log)
	d := &daemon{cfg: cfg, log: log}
	if err := d.open(ctx); err != nil {
		return err
	}
	log.Info("heaterd runs", "version", version(), "pages", d.address(), "heaters", len(cfg.Fleet.Heaters))
	return d.runAndClose(ctx)
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
