package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"heaterd/alerts/fold"
	"heaterd/config"
	"heaterd/ingest/capture"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/source"
)

func replayCommand(env lookup, std streams) *cobra.Command {
	var file, captured, against string
	c := &cobra.Command{
		Use:   "replay --config FILE --capture FILE",
		Short: "print what a recording comes to, as JSON Lines",
		Long: `Feeds a recording through the same engine as the daemon's, without network,
clock or store, and prints the outcomes as JSON Lines in order: burns and
alarms as they become certain, then hours, service, exposure and trends at the
end of the recording. The same input gives the same bytes.

With --against, prints only what differs between the two configurations; each
line then says in "by" which configuration it belongs to.`,
		Example: `  heaterd replay --config heaterd.yaml --capture night.jsonl
  heaterd replay --config heaterd.yaml --capture night.jsonl --against tighter.yaml`,
		Args: noArguments,
		RunE: func(c *cobra.Command, _ []string) error {
			first, err := config.Load(file, env)
			if err != nil {
				return err
			}
			if against == "" {
				return replayOne(c.Context(), first, captured, std)
			}
			if captured == "-" {
				return errors.New("--against reads the recording twice: give --capture a file, not standard input")
			}
			second, err := config.Load(against, env)
			if err != nil {
				return err
			}
			return replayBoth(c.Context(), first, second, captured, std)
		},
	}
	c.Flags().StringVar(&file, "config", "", "configuration `FILE`")
	c.Flags().StringVar(&captured, "capture", "", "`FILE` made by heaterd capture; - for standard input")
	c.Flags().StringVar(&against, "against", "", "second configuration `FILE` to compare with")
	require(c, "config", "capture")
	return c
}

func replayOne(ctx context.Context, cfg *config.Config, captured string, std streams) error {
	w := bufio.NewWriter(std.out)
	out := jsonLines(w)
	if err := replay(ctx, cfg, captured, std, out); err != nil {
		return errors.Join(err, w.Flush())
	}
	return failure(w.Flush())
}

// replay folds a recording by one configuration and hands every outcome to
// out.
func replay(ctx context.Context, cfg *config.Config, captured string, std streams, out func(any) error) error {
	f, err := openInput(captured, "recording", std)
	if err != nil {
		return failed{err}
	}
	defer f.Close()
	engine := fold.New(cfg.Fleet, rulesOf(cfg))
	bar := progress(std.err, f)
	left := newUnused(cfg, engine)
	err = foldCapture(ctx, engine, left, bar, out)
	bar.done()
	if err != nil {
		return failed{fmt.Errorf("cannot replay %s: %w", captured, err)}
	}
	left.tell(std.err)
	if left.lines == 0 {
		return nil
	}
	return failure(finish(engine, out))
}

func foldCapture(ctx context.Context, engine *fold.Engine, left *unused, in io.Reader, out func(any) error) error {
	r := capture.NewReader(in)
	for ctx.Err() == nil {
		l, err := r.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		e := engine.Step(left.sift(l))
		left.wrong(e.Errors)
		if err := tellAll(e, out); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// lineOf makes a line of the log from a line of a recording, the way ingest
// makes it from a message.
func lineOf(sources source.Sources, l capture.Line) record.Line {
	out := record.Line{At: l.At, Entry: l.Entry, Stop: l.PlannedStop, Withdraw: l.Withdraw, Answer: l.Answer, Retained: l.Retained}
	if l.Topic == "" {
		return out
	}
	got, err := sources.Decode(l.Topic, l.Payload, l.At)
	if err != nil {
		out.Refused = refusedBy(l.Topic, err)
		return out
	}
	out.Pack, out.Status = got.Pack, got.Status
	return out
}

func refusedBy(topic string, err error) *record.Refused {
	out := &record.Refused{Topic: topic, Detail: err.Error(), Reason: reading.BadSyntax}
	if r, ok := errors.AsType[*reading.Refusal](err); ok {
		out.Reason = r.Reason
	}
	return out
}

func tellAll(e *fold.Effects, out func(any) error) error {
	for _, b := range e.Burns {
		if err := out(b); err != nil {
			return err
		}
	}
	for _, t := range e.Transitions {
		if err := out(t.Outcome()); err != nil {
			return err
		}
	}
	return nil
}

func finish(engine *fold.Engine, out func(any) error) error {
	o := engine.Finish()
	return errors.Join(
		each(o.Burns, out), each(o.Hours, out), each(o.Services, out),
		each(o.Exposures, out), each(o.Trends, out))
}

func each[T any](all []T, out func(any) error) error {
	for _, v := range all {
		if err := out(v); err != nil {
			return err
		}
	}
	return nil
}

// openInput opens a file, or standard input for "-"; what says what it holds.
func openInput(name, what string, std streams) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(std.in), nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("cannot open the %s: %w", what, err)
	}
	return f, nil
}
