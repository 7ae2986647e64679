package ledger

import (
	"context"
	"fmt"

	"heaterd/ingest/reading"
)

// Counts say how full the outbox is.
type Counts struct {
	Pending int
	Dead    int             // given up
	Oldest  reading.Instant // when the one that waits longest is, or was, due, of one that failed the first attempt; 0: none is pending
}

const waitingJobs = `SELECT
	COALESCE(SUM(CASE WHEN state = 'pending' THEN 1 ELSE 0 END), 0),
	COALESCE(SUM(CASE WHEN state = 'dead' THEN 1 ELSE 0 END), 0),
	COALESCE(MIN(CASE WHEN state <> 'pending' THEN NULL
		WHEN last_error = '' THEN next_attempt
		ELSE COALESCE((SELECT MIN(at) FROM delivery WHERE delivery.job = job.id), next_attempt) END), 0)
	FROM job WHERE state IN ('pending', 'dead')`

// Waiting counts the outbox.
func (l *Ledger) Waiting(ctx context.Context) (c Counts, err error) {
	var oldest int64
	err = l.reader.QueryRowContext(ctx, waitingJobs).Scan(&c.Pending, &c.Dead, &oldest)
	if err != nil {
		return Counts{}, fmt.Errorf("cannot count the outbox: %w", err)
	}
	c.Oldest = reading.Instant(oldest)
	return c, nil
}
