package alerts

import (
	"context"

	"heaterd/alerts/ledger"
)

// resume brings the engine to where the ledger stands: the last snapshot, or
// where that is of no use the compacted samples, then the lines up to the
// ledger once more, without their effects, which are committed already. The
// alarms are the ledger's then; a snapshot that stands where the ledger does
// has the same ones, and to read those of a large fleet takes seconds.
func (w *Watch) resume(ctx context.Context) error {
	w.turned()
	to, err := w.o.Ledger.Cursor(ctx)
	if err != nil {
		return err
	}
	recalled, err := w.recall(ctx)
	if err != nil {
		return err
	}
	if recalled && w.cursor >= to {
		return nil
	}
	if !recalled {
		if err := w.rebuild(ctx); err != nil {
			return err
		}
	}
	if err := w.refold(ctx, to); err != nil {
		return err
	}
	alarms, err := w.o.Ledger.LastAlarms(ctx)
	if err != nil {
		return err
	}
	w.o.Engine.SetAlarms(alarms)
	return nil
}

// recall takes up the last snapshot; false where there is none, or none that
// can be read and goes on where the log begins.
func (w *Watch) recall(ctx context.Context) (ok bool, err error) {
	cursor, body, ok, err := w.o.Log.LoadSnapshot(ctx, snapshotName)
	if err != nil || !ok {
		return false, err
	}
	compacted, err := w.o.Log.Compacted(ctx)
	if err != nil {
		return false, err
	}
	if cursor < compacted {
		w.o.Logger.Warn("the engine's memory is older than the log", "memory", cursor, "log", compacted)
		return false, nil
	}
	if err := w.o.Engine.Restore(body); err != nil {
		w.o.Logger.Warn("everything kept is folded again", "err", err)
		return false, nil
	}
	if away := w.o.Engine.Away(); len(away) > 0 {
		w.o.Logger.Info("heaters that left the configuration are remembered for when they come back", "heaters", away)
	}
	w.reach(cursor)
	w.saved.Store(cursor)
	return true, nil
}

func (w *Watch) reach(line int64) {
	w.cursor = line
	w.behind.Store(line)
}

func (w *Watch) refold(ctx context.Context, to int64) error {
	for w.cursor < to {
		lines, err := w.o.Log.Lines(ctx, w.cursor, linesAtOnce)
		if err != nil {
			return err
		}
		if len(lines) == 0 {
			break
		}
		w.turned()
		for _, l := range lines {
			if l.ID > to {
				return nil
			}
			w.step(l, &ledger.Batch{})
			w.reach(l.ID)
		}
	}
	return nil
}
