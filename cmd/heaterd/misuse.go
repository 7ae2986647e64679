package main

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// misused marks an error of the command line, where an example says more than
// the complaint.
type misused struct {
	error
	command *cobra.Command
}

func (m misused) Unwrap() error { return m.error }

// misuse marks err, if there is one.
func misuse(c *cobra.Command, err error) error {
	if err == nil {
		return nil
	}
	return misused{err, c}
}

// help shows how the command is meant.
func (m misused) help(w io.Writer) {
	if m.command.Example != "" {
		fmt.Fprintf(w, "For example:\n%s\n", m.command.Example)
	}
	fmt.Fprintf(w, "%s --help says more.\n", m.command.CommandPath())
}

// noArguments says of a word that the command does not take what was likely
// meant by it.
func noArguments(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	word := args[0]
	c.SuggestionsMinimumDistance = 2
	switch near := c.SuggestionsFor(word); {
	case c.Flags().Lookup("config") != nil && isConfiguration(word):
		return misuse(c, fmt.Errorf("%s does not take %q by itself; did you mean --config %s?", c.CommandPath(), word, word))
	case len(near) > 0:
		return misuse(c, fmt.Errorf("unknown command %q for %q; did you mean %s?", word, c.CommandPath(), strings.Join(near, " or ")))
	case c.HasAvailableSubCommands():
		return misuse(c, fmt.Errorf("unknown command %q for %q; there are: %s", word, c.CommandPath(), strings.Join(subcommands(c), ", ")))
	}
	return misuse(c, fmt.Errorf("%s takes flags only, found %q", c.CommandPath(), word))
}

// isConfiguration reports whether a word looks like the configuration's file.
func isConfiguration(word string) bool {
	return slices.Contains([]string{".yaml", ".yml", ".example"}, strings.ToLower(filepath.Ext(word)))
}

func subcommands(c *cobra.Command) (names []string) {
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			names = append(names, sub.Name())
		}
	}
	return names
}

// oneReport wants the name of a report.
func oneReport(c *cobra.Command, args []string) error {
	all := strings.Join(reportKinds, ", ")
	switch {
	case len(args) == 0:
		return misuse(c, fmt.Errorf("name a report: %s", all))
	case len(args) > 1:
		return misuse(c, fmt.Errorf("name one report, found %d: %s", len(args), all))
	case !slices.Contains(reportKinds, args[0]):
		return misuse(c, fmt.Errorf("there is no report %q; there are: %s", args[0], all))
	}
	return nil
}
