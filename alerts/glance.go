package alerts

import (
	"context"
	"fmt"

	"heaterd/alerts/ledger"
)

// Glance brings an engine to the end of the log and leaves the ledger alone:
// for a report beside a running daemon. Options need Log, Ledger, Engine and
// Logger.
func Glance(ctx context.Context, o Options) error {
	w := New(o)
	if err := w.resume(ctx); err != nil {
		return fmt.Errorf("cannot take stock: %w", err)
	}
	for {
		lines, err := o.Log.Lines(ctx, w.cursor, linesAtOnce)
		if err != nil {
			return fmt.Errorf("cannot take stock: %w", err)
		}
		if len(lines) == 0 {
			return nil
		}
		for _, l := range lines {
			w.step(l, &ledger.Batch{})
			w.cursor = l.ID
		}
	}
}
