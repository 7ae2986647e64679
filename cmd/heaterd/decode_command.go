package main

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"heaterd/config"
	"heaterd/ingest/reading"
)

func decodeCommand(env lookup, std streams) *cobra.Command {
	var file, topic, payload, arrived string
	c := &cobra.Command{
		Use:   "decode --config FILE --topic T --payload FILE",
		Short: "print the readings that one message becomes, or why it is refused",
		Example: `  echo '[{"n":"co","u":"ppm","v":3}]' |
    heaterd decode --config heaterd.yaml --topic sites/quay/nodes/n-07/telemetry --payload -`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error {
			cfg, err := config.Load(file, env)
			if err != nil {
				return err
			}
			at, err := arrival(arrived)
			if err != nil {
				return err
			}
			return failure(decode(cfg, topic, payload, at, std))
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	c.Flags().StringVar(&topic, "topic", "", "MQTT topic the message was published at")
	c.Flags().StringVar(&payload, "payload", "", "`FILE` that holds the message; - for standard input")
	c.Flags().StringVar(&arrived, "at", "", "when it arrived, RFC 3339; now where it is left out")
	require(c, "config", "topic", "payload")
	return c
}

// arrival reads when a message arrived; empty is now.
func arrival(text string) (at reading.Instant, err error) {
	if text == "" {
		return reading.InstantOf(time.Now()), nil
	}
	if err := at.UnmarshalText([]byte(text)); err != nil {
		return 0, fmt.Errorf("cannot read --at: %w", err)
	}
	return at, nil
}

// shown is one reading as decode prints it.
type shown struct {
	At      reading.Instant `json:"at"`
	Node    reading.NodeID  `json:"node"`
	Flame   *bool           `json:"flame,omitempty"`
	Runtime *float64        `json:"runtime_s,omitempty"`
	CO      *float32        `json:"co_ppm,omitempty"`
	Temp    *float32        `json:"temp_celsius,omitempty"`
	Supply  *bool           `json:"supply,omitempty"`
	Call    *bool           `json:"call,omitempty"`
	Fuel    *float32        `json:"fuel_ratio,omitempty"`
	Level   *float32        `json:"battery_ratio,omitempty"`
	Volts   *float32        `json:"battery_volts,omitempty"`
}

func decode(cfg *config.Config, topic, payload string, at reading.Instant, std streams) error {
	in, err := openInput(payload, "message", std)
	if err != nil {
		return err
	}
	defer in.Close()
	body, err := io.ReadAll(io.LimitReader(in, 16<<20))
	if err != nil {
		return fmt.Errorf("cannot read the message: %w", err)
	}
	l, err := cfg.Sources.Decode(topic, body, at)
	if err == nil {
		err = misplaced(cfg, topic, l.Node())
	}
	if err != nil {
		return errors.Join(errors.New("the message is refused"), err)
	}
	out := jsonLines(std.out)
	if l.Status != nil {
		return out(map[string]any{"node": l.Status.Node, "online": l.Status.Online})
	}
	for _, s := range l.Pack.Samples {
		if err := out(show(l.Pack.Node, s)); err != nil {
			return err
		}
	}
	if why := l.Pack.Spoilt; why != nil {
		fmt.Fprintf(std.err, "heaterd: a value is left out: %v\n", why)
	}
	return nil
}

// misplaced refuses a node's message under another site's topic, as far as the
// configuration tells where the node is.
func misplaced(cfg *config.Config, topic string, node reading.NodeID) error {
	for _, h := range cfg.Fleet.Heaters {
		if h.Node == node && elsewhere(cfg, topic, h.Site) {
			return &reading.Refusal{Reason: reading.BadTopic,
				Detail: fmt.Sprintf("node %s is at site %s by the configuration, and the topic is another site's", node, h.Site)}
		}
	}
	return nil
}

func show(node reading.NodeID, s reading.Sample) shown {
	return shown{
		At: s.At, Node: node,
		Flame: flag(s, reading.Flame), Supply: flag(s, reading.Supply), Call: flag(s, reading.Call),
		Runtime: sent(s, reading.Runtime, s.Runtime), CO: sent(s, reading.CO, s.CO),
		Temp: sent(s, reading.Temp, s.Temp), Fuel: sent(s, reading.Fuel, s.Fuel),
		Level: sent(s, reading.BatteryLevel, s.Battery), Volts: sent(s, reading.BatteryVolts, s.Battery),
	}
}

func flag(s reading.Sample, q reading.Quantity) *bool {
	on := s.On&q != 0
	return sent(s, q, on)
}

func sent[T any](s reading.Sample, q reading.Quantity, v T) *T {
	if !s.Carries(q) {
		return nil
	}
	return &v
}
