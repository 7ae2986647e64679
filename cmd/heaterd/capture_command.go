package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"heaterd/config"
	"heaterd/ingest/capture"
	"heaterd/ingest/mqtt"
)

func captureCommand(env lookup, std streams) *cobra.Command {
	var file, to, id string
	var span time.Duration
	c := &cobra.Command{
		Use:   "capture --config FILE --out FILE",
		Short: "record what the subscriptions deliver, for replay",
		Long: `Subscribes like the daemon, under a client id of its own so that it takes
nothing from it, and writes every message to a file as it arrives until it is
told to stop.`,
		Example: "  heaterd capture --config heaterd.yaml --out night.jsonl --for 12h",
		Args:    noArguments,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := config.Load(file, env)
			if err != nil {
				return err
			}
			if err := cfg.Ready(); err != nil {
				return err
			}
			ctx, cancel := bounded(c.Context(), span)
			defer cancel()
			return failure(captureTo(ctx, cfg, to, id, std))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	c.Flags().StringVar(&to, "out", "", "`FILE` to write; it must not exist; - for standard output")
	c.Flags().StringVar(&id, "client-id", "heaterd-capture", "MQTT client id")
	c.Flags().DurationVar(&span, "for", 0, "stop by itself after this long")
	require(c, "config", "out")
	return c
}

// bounded ends ctx after span; zero leaves it unbounded.
func bounded(ctx context.Context, span time.Duration) (context.Context, context.CancelFunc) {
	if span <= 0 {
		return context.WithCancel(ctx)
	}
	return context.WithTimeout(ctx, span)
}

// captureTo writes what arrives until ctx ends.
func captureTo(ctx context.Context, cfg *config.Config, to, id string, std streams) (err error) {
	out, done, err := createOutput(to, std)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	link := linkTo(cfg, logger(std, cfg.Log))
	link.ClientID, link.StatusTopic = id, ""
	sub := mqtt.New(mqtt.Options{Link: link, Filters: filtersOf(cfg.Sources), Passing: true}) // else the next recording would begin with what came meanwhile
	ended := make(chan error, 1)
	go func() { ended <- sub.Run(ctx) }()
	w := capture.NewWriter(out)
	for m := range sub.Messages() {
		if err := w.Write(capture.Line{At: m.Arrived, Topic: m.Topic, Payload: m.Payload, Retained: m.Retained}); err != nil {
			return fmt.Errorf("cannot write the recording: %w", err)
		}
		if err := out.Flush(); err != nil {
			return fmt.Errorf("cannot write the recording: %w", err)
		}
		m.Ack()
	}
	return cmp.Or(<-ended, neverHeard(sub))
}

// neverHeard says why nothing could be recorded, nil where it could.
func neverHeard(sub *mqtt.Subscriber) error {
	select {
	case <-sub.Ready():
		return nil
	default:
		return fmt.Errorf("nothing was recorded: %w", cmp.Or(sub.Healthy(), errors.New("not subscribed")))
	}
}

// createOutput makes a new file, or takes standard output for "-".
func createOutput(to string, std streams) (*bufio.Writer, func() error, error) {
	if to == "-" {
		w := bufio.NewWriter(std.out)
		return w, w.Flush, nil
	}
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, nil, fmt.Errorf("cannot create the recording: %w", err)
	}
	w := bufio.NewWriter(f)
	return w, func() error { return errors.Join(w.Flush(), f.Sync(), f.Close()) }, nil
}
