package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/channels"
	"heaterd/config"
	"heaterd/ingest/mqtt"
)

// sendWait bounds one test message.
const sendWait = 30 * time.Second

func sendCommand(env lookup, std streams) *cobra.Command {
	var file, only string
	c := &cobra.Command{
		Use:   "send --config FILE",
		Short: "send a test message by every channel, or by one",
		Long: `Sends one message that says it is a test, by every channel of the
configuration or by the one named, and says how each went. Nothing is retried.`,
		Example: "  heaterd check send --config heaterd.yaml --channel mail",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := ready(file, env)
			if err != nil {
				return err
			}
			return failure(sendTests(c.Context(), cfg, only, std))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	c.Flags().StringVar(&only, "channel", "", "`ID` of one channel")
	require(c, "config")
	return c
}

func sendTests(ctx context.Context, cfg *config.Config, only string, std streams) error {
	if len(cfg.Notify.Channels) == 0 {
		return errors.New("there are no channels in the configuration: nobody is told of any alarm")
	}
	link := linkTo(cfg, slog.New(slog.DiscardHandler))
	link.ClientID, link.StatusTopic = "heaterd-test", ""
	broker := mqtt.NewPublisher(link)
	defer broker.Close(context.WithoutCancel(ctx))
	senders, err := channels.Open(cfg.Notify, broker)
	if err != nil {
		return err
	}
	courier := notify.NewCourier(notify.Options{
		Planner: notify.New(cfg.Notify, cfg.Fleet, nil), Senders: senders, Logger: slog.New(slog.DiscardHandler),
	})
	var errs []error
	for _, c := range cfg.Notify.Channels {
		if only == "" || only == c.ID {
			errs = append(errs, sendTest(ctx, courier, c.ID, std.out))
		}
	}
	known := func(c notify.Channel) bool { return only == c.ID }
	if only != "" && !slices.ContainsFunc(cfg.Notify.Channels, known) {
		return fmt.Errorf("there is no channel %q in the configuration", only)
	}
	return errors.Join(errs...)
}

func sendTest(ctx context.Context, courier *notify.Courier, channel string, out io.Writer) error {
	ctx, cancel := context.WithTimeout(ctx, sendWait)
	defer cancel()
	if err := courier.Test(ctx, channel); err != nil {
		return fmt.Errorf("channel %s: %w", channel, err)
	}
	fmt.Fprintf(out, "channel %s: sent\n", channel)
	return nil
}
