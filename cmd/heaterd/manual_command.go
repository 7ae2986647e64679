package main

import (
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"
)

// epochVariable names the day a reproducible build is of, in seconds since
// 1970 UTC (reproducible-builds.org/specs/source-date-epoch).
const epochVariable = "SOURCE_DATE_EPOCH"

func manualCommand(env lookup) *cobra.Command {
	var dir string
	c := &cobra.Command{
		Use:   "manual --out DIR",
		Short: "write the manual pages",
		Long: `Writes a manual page for every command into a folder, for those who make
packages. The pages bear the day that SOURCE_DATE_EPOCH gives, else none.`,
		Example: "  heaterd manual --out man",
		Args:    noArguments,
		Hidden:  true,
		RunE: func(c *cobra.Command, _ []string) error {
			day, err := buildDay(env)
			if err != nil {
				return err
			}
			return failure(writeManual(c.Root(), dir, day))
		},
	}
	c.Flags().StringVar(&dir, "out", "", "`DIR` to write to; made where it is missing")
	require(c, "out")
	return c
}

// buildDay gives the day of the build; zero where nobody said.
func buildDay(env lookup) (time.Time, error) {
	text, ok := env(epochVariable)
	if !ok || text == "" {
		return time.Time{}, nil
	}
	seconds, err := strconv.ParseInt(text, 10, 64)
	if err != nil || seconds < 0 {
		return time.Time{}, fmt.Errorf("%s is %q; it must be seconds since 1970", epochVariable, text)
	}
	return time.Unix(seconds, 0).UTC(), nil
}

// shells are those a completion script can be written for, with how it is
// put to use.
var shells = map[string]string{
	"bash":       "  source <(heaterd completion bash)\n  heaterd completion bash > /etc/bash_completion.d/heaterd",
	"zsh":        "  heaterd completion zsh > \"${fpath[1]}/_heaterd\"",
	"fish":       "  heaterd completion fish > ~/.config/fish/completions/heaterd.fish",
	"powershell": "  heaterd completion powershell | Out-String | Invoke-Expression",
}

// describeCompletion puts the command that comes with the parser into the
// words of the others.
func describeCompletion(root *cobra.Command) {
	root.CompletionOptions.DisableNoDescFlag = true
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() != "completion" {
			continue
		}
		c.Short, c.Long = "print a script that completes commands in a shell", ""
		for _, sub := range c.Commands() {
			sub.Short, sub.Long = "print the completion script for "+sub.Name(), ""
			sub.Example = shells[sub.Name()]
		}
	}
}
