package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"slices"
	"strings"
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
configuration or by the one named, and says how each went and to whom: the
first person who has the channel, or whoever listens on it. Nothing is retried.`,
		Example: "  heaterd check send --config heaterd.yaml --channel mail",
		Args:    noArguments,
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
	link.ClientID = "heaterd-test"
	broker := mqtt.NewPublisher(link)
	defer broker.Close()
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
			errs = append(errs, sendTest(ctx, courier, c, cfg.Notify.People, std.out))
		}
	}
	known := func(c notify.Channel) bool { return only == c.ID }
	if only != "" && !slices.ContainsFunc(cfg.Notify.Channels, known) {
		return fmt.Errorf("there is no channel %q in the configuration; there are: %s", only, strings.Join(channelIDs(cfg.Notify), ", "))
	}
	return errors.Join(errs...)
}

func channelIDs(s notify.Settings) (ids []string) {
	for _, c := range s.Channels {
		ids = append(ids, c.ID)
	}
	return ids
}

func sendTest(ctx context.Context, courier *notify.Courier, c notify.Channel, people []notify.Person, out io.Writer) error {
	ctx, cancel := context.WithTimeout(ctx, sendWait)
	defer cancel()
	m, err := courier.Test(ctx, c.ID)
	if err != nil {
		return fmt.Errorf("channel %s: to %s: %w", c.ID, toWhom(c, m), err)
	}
	_, err = fmt.Fprintf(out, "channel %s: sent to %s%s\n", c.ID, toWhom(c, m), untried(c, m, people))
	return err
}

// toWhom says where a message goes. Of an address to post to only the host is
// told, for the rest may be a key.
func toWhom(c notify.Channel, m notify.Message) string {
	where := m.Address
	switch {
	case c.Kind == notify.MQTT:
		return "the topic " + m.Topic
	case c.Kind == notify.Mail && where == "":
		where = strings.Join(c.To, ", ")
	case c.Kind == notify.Webhook, where == "":
		if u, err := url.Parse(c.URL); err == nil {
			where = u.Host
		}
	}
	switch {
	case m.Name == "":
		return cmp.Or(where, "nobody")
	case where == "":
		return m.Name
	}
	return fmt.Sprintf("%s (%s)", m.Name, where)
}

// untried names those who have the channel too.
func untried(c notify.Channel, m notify.Message, people []notify.Person) string {
	var names []string
	for _, p := range people {
		if p.ID != m.Person && slices.Contains(p.Channels, c.ID) && c.Kind != notify.MQTT {
			names = append(names, p.Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "; not tried: " + strings.Join(names, ", ")
}
