package main

import (
	"context"
	"time"

	"heaterd/dashboards/history"
	"heaterd/ingest/reading"
)

// How the store is looked after; common practice, no source, except where
// said.
const (
	tendFirst      = time.Minute            // after the start, when the broker's backlog has been taken in
	tendEvery      = time.Hour              // and from then on
	freshFor       = 3 * time.Hour          // packs stay in the log as they came for so long
	copyPatience   = 24 * time.Hour         // and for so long where they are not copied elsewhere yet
	tendLines      = 20_000                 // of the log at once: some megabytes while their hours are written
	tendPause      = 100 * time.Millisecond // between two, for whoever waits for the disk
	quarantineDays = 90                     // days that messages which could not be read are kept
	optimizeEvery  = 24                     // turns; SQLite's manual asks for every few hours to once a day
)

// care looks after the store until ctx ends: it moves older packs from the
// log to their hours, deletes what was to be kept for a time only, and lets
// SQLite renew its statistics. A failure is tried again with the next turn.
func (d *daemon) care(ctx context.Context) error {
	t := time.NewTimer(tendFirst)
	defer t.Stop()
	for turn := 0; ; turn++ {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		if err := d.tend(ctx, turn); err != nil && ctx.Err() == nil {
			d.log.Warn("the store was not looked after; it is tried again", "in", tendEvery, "err", err)
		}
		t.Reset(tendEvery)
	}
}

// tend is one turn.
func (d *daemon) tend(ctx context.Context, turn int) error {
	folded := d.watch.Kept()
	copied, err := d.copied(ctx, folded)
	if err != nil {
		return err
	}
	if err := d.compact(ctx, min(folded, copied)+1, freshFor); err != nil {
		return err
	}
	if err := d.compact(ctx, folded+1, copyPatience); err != nil {
		return err
	}
	if err := d.retain(ctx); err != nil {
		return err
	}
	if turn%optimizeEvery != 0 {
		return nil
	}
	return d.store.Optimize(ctx)
}

// copied gives the last line of the log that is copied elsewhere. The copy can
// do with the hours, but takes longer over them: it is waited for.
func (d *daemon) copied(ctx context.Context, folded int64) (line int64, err error) {
	if d.cfg.History == nil {
		return folded, nil
	}
	line, _, err = d.store.SnapshotCursor(ctx, history.SnapshotName) // 0 where it has not begun
	return line, err
}

func (d *daemon) compact(ctx context.Context, below int64, age time.Duration) error {
	start, lines := time.Now(), 0
	olderThan := d.now().Add(-age)
	err := repeat(ctx, func() (int, error) {
		n, err := d.store.Compact(ctx, below, olderThan, tendLines)
		lines += n
		return n, err
	})
	if lines > 0 {
		d.log.Info("older readings were put in their hours", "lines", lines, "took", time.Since(start).Round(time.Millisecond))
	}
	return err
}

// retain deletes what the configuration keeps for a time only. What run-hours
// rest on, the figures of the hours, alarms and the service log are kept for
// ever.
func (d *daemon) retain(ctx context.Context) error {
	days := func(n int) reading.Instant { return d.now().Add(-time.Duration(n) * 24 * time.Hour) }
	err := repeat(ctx, func() (int, error) { return d.store.PruneQuarantine(ctx, days(quarantineDays)) })
	if err != nil || d.cfg.Store.ReadingsDays == 0 {
		return err
	}
	start, ok, err := d.store.DaysBack(ctx, d.cfg.Store.ReadingsDays)
	if err != nil || !ok {
		return err
	}
	// A clock that is far ahead for an hour would thin everything, and close the
	// hours that come next: as many days of readings are left as are to be kept.
	before := min(days(d.cfg.Store.ReadingsDays), start)
	return repeat(ctx, func() (int, error) { return d.store.Thin(ctx, before) })
}

// repeat does something in small parts, with pauses, until a part does
// nothing more.
func repeat(ctx context.Context, part func() (done int, err error)) error {
	t := time.NewTimer(0)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-t.C:
		}
		if n, err := part(); n == 0 || err != nil {
			return err
		}
		t.Reset(tendPause)
	}
}
