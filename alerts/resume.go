package alerts

import (
	"context"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
)

// resume brings the engine to where the ledger stands: the last snapshot,
// then the lines between it and the ledger once more, without their effects,
// which are committed already; the alarms are the ledger's.
func (w *Watch) resume(ctx context.Context) error {
	to, alarms, err := w.o.Ledger.Load(ctx)
	if err != nil {
		return err
	}
	if err := w.recall(ctx); err != nil {
		return err
	}
	if w.cursor >= to {
		return nil
	}
	return w.refold(ctx, to, alarms)
}

// recall takes up the last snapshot. One that cannot be read is passed over:
// the log is folded from its beginning instead.
func (w *Watch) recall(ctx context.Context) error {
	cursor, body, ok, err := w.o.Log.LoadSnapshot(ctx, snapshotName)
	if err != nil || !ok {
		return err
	}
	if err := w.o.Engine.Restore(body); err != nil {
		w.o.Logger.Warn("the whole log is folded again", "err", err)
		return nil
	}
	w.cursor = cursor
	w.behind.Store(cursor)
	return nil
}

func (w *Watch) refold(ctx context.Context, to int64, alarms []alarm.Alarm) error {
	for w.cursor < to {
		lines, err := w.o.Log.Lines(ctx, w.cursor, linesAtOnce)
		if err != nil {
			return err
		}
		if len(lines) == 0 {
			break
		}
		for _, l := range lines {
			if l.ID > to {
				break
			}
			w.step(l, &ledger.Batch{})
			w.cursor = l.ID
		}
	}
	w.behind.Store(w.cursor)
	w.o.Engine.SetAlarms(alarms)
	return nil
}
