package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"heaterd/config"
)

// streams are the three standard streams, so that tests can replace them.
type streams struct {
	in  io.Reader
	out io.Writer
	err io.Writer
}

// lookup finds an environment variable.
type lookup func(string) (string, bool)

// failed marks an error of work that began: exit status 1. Every other error
// is the command line's or the configuration's: exit status 2.
type failed struct{ error }

func (f failed) Unwrap() error { return f.error }

// failure marks an error of work that began; nil stays nil.
func failure(err error) error {
	if _, marked := errors.AsType[failed](err); err == nil || marked {
		return err
	}
	return failed{err}
}

// run is the whole program. The first interrupt or termination signal asks
// it to stop in order; a second ends the process at once, which is safe
// because nothing is answered before it is stored.
func run(ctx context.Context, args []string, env lookup, std streams) int {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	root := newRoot(env, std)
	root.SetArgs(args)
	return report(root.ExecuteContext(ctx), std.err)
}

func newRoot(env lookup, std streams) *cobra.Command {
	root := &cobra.Command{
		Use:           "heaterd",
		Short:         "keeps watch over jobsite heaters for the technician on call",
		Long:          "heaterd keeps watch over portable oil-fired heaters on jobsites for the technician on call.\nIt defers to the site's procedure and never commands a heater.",
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          noArguments,
		// Here and not after, where it would not be known for a misuse.
		PersistentPreRunE: func(c *cobra.Command, _ []string) error { return misuse(c, c.ValidateRequiredFlags()) },
		RunE: func(c *cobra.Command, _ []string) error {
			return errors.Join(c.Help(), errors.New("name a command"))
		},
	}
	root.SetFlagErrorFunc(misuse)
	root.SetIn(std.in)
	root.SetOut(std.out)
	root.SetErr(std.err)
	root.Version = whichBuild()
	root.SetVersionTemplate("heaterd {{.Version}}\n")
	root.AddCommand(commands(env, std)...)
	describeCompletion(root)
	root.SetHelpCommand(helpCommand())
	return root
}

// report prints err the way people read it and gives the exit status.
func report(err error, w io.Writer) int {
	if err == nil {
		return 0
	}
	if wrong, ok := errors.AsType[*config.Errors](err); ok {
		fmt.Fprintln(w, wrong)
	} else {
		fmt.Fprintln(w, "heaterd:", err)
	}
	if m, ok := errors.AsType[misused](err); ok {
		m.help(w)
	}
	if _, ok := errors.AsType[failed](err); ok {
		return 1
	}
	return 2
}
