package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"heaterd/config"
)

func checkCommand(env lookup, std streams) *cobra.Command {
	var file string
	c := &cobra.Command{
		Use:   "check --config FILE",
		Short: "say whether a configuration is right, and what it means",
		Long: `Reads a configuration the way the daemon does and prints what it comes to:
where data is kept, which broker, and for each site its time zone, the limits
in force with their source, its heaters and where their units are expected;
the service plan; who is called in which order and by what. Every mistake is
told at once, with file, line and column and what is allowed.`,
		Example: "  heaterd check --config heaterd.yaml",
		Args:    noArguments,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := config.Load(file, env)
			if err != nil {
				return err
			}
			ends, err := checkDuty(c.Context(), cfg, time.Now())
			if err != nil {
				return err
			}
			cfg.Warnings = append(cfg.Warnings, ends...)
			_, err = fmt.Fprint(std.out, config.Summary(cfg))
			return failure(err)
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	require(c, "config")
	c.AddCommand(referenceCommand(std), sendCommand(env, std), liveCommand(std), secretCommand(std))
	return c
}

func referenceCommand(std streams) *cobra.Command {
	return &cobra.Command{
		Use:   "reference",
		Short: "print a configuration that documents every key",
		Args:  noArguments,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprint(std.out, string(config.Reference))
			return failure(err)
		},
	}
}
