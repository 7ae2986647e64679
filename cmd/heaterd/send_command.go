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
	var file string
	var to sendTo
	c := &cobra.Command{
		Use:   "send --config FILE",
		Short: "send a test message by every channel, or to everyone",
		Long: `Sends one message that says it is a test, by every channel of the
configuration or by the one named, and says how each went and to whom: the
first person who has the channel, or whoever listens on it. With --person it
goes to one person by each channel that is theirs, or so to everyone, which
finds the wrong number. Nothing is retried.`,
		Example: "  heaterd check send --config heaterd.yaml --person everyone",
		Args:    noArguments,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := ready(file, env)
			if err != nil {
				return err
			}
			return failure(sendTests(c.Context(), cfg, to, std))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	c.Flags().StringVar(&to.channel, "channel", "", "`ID` of one channel")
	c.Flags().StringVar(&to.person, "person", "", "`ID` of one person, or everyone")
	require(c, "config")
	return c
}

// sendTo is what is tried: empty, every channel, and the first person who has it.
type sendTo struct{ channel, person string }

// everyone stands for all people.
const everyone = "everyone"

func sendTests(ctx context.Context, cfg *config.Config, to sendTo, std streams) error {
	if err := to.check(cfg.Notify); err != nil {
		return err
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
		if to.channel != "" && to.channel != c.ID {
			continue
		}
		for _, person := range to.people(c, cfg.Notify.People) {
			errs = append(errs, sendTest(ctx, courier, c, person, cfg.Notify.People, std.out))
		}
	}
	return errors.Join(errs...)
}

// check tells what cannot be tried.
func (to sendTo) check(s notify.Settings) error {
	var channels, people []string
	for _, c := range s.Channels {
		channels = append(channels, c.ID)
	}
	for _, p := range s.People {
		people = append(people, p.ID)
	}
	switch {
	case len(channels) == 0:
		return errors.New("there are no channels in the configuration: nobody is told of any alarm")
	case to.channel != "" && !slices.Contains(channels, to.channel):
		return fmt.Errorf("there is no channel %q in the configuration; there are: %s", to.channel, strings.Join(channels, ", "))
	case to.person != "" && to.person != everyone && !slices.Contains(people, to.person):
		return fmt.Errorf("there is no person %q in the configuration; there are: %s", to.person, strings.Join(append(people, everyone), ", "))
	}
	return nil
}

// people are whom a channel is tried with, by id; "" is the first who has it, or
// whoever listens.
func (to sendTo) people(c notify.Channel, all []notify.Person) []string {
	var ids []string
	for _, p := range all {
		if slices.Contains(p.Channels, c.ID) && c.Kind != notify.MQTT && (to.person == p.ID || to.person == everyone) {
			ids = append(ids, p.ID)
		}
	}
	if to.person == "" || to.person == everyone && len(ids) == 0 {
		return []string{""}
	}
	return ids
}

func sendTest(ctx context.Context, courier *notify.Courier, c notify.Channel, person string, people []notify.Person, out io.Writer) error {
	ctx, cancel := context.WithTimeout(ctx, sendWait)
	defer cancel()
	m, err := courier.Test(ctx, c.ID, person)
	if err != nil {
		return fmt.Errorf("channel %s: to %s: %w", c.ID, toWhom(c, m), err)
	}
	others := ""
	if person == "" {
		others = untried(c, m, people)
	}
	_, err = fmt.Fprintf(out, "channel %s: sent to %s%s\n", c.ID, toWhom(c, m), others)
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
