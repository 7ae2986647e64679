package store

import (
	"context"
	"database/sql"

	"heaterd/ingest/reading"
)

// PruneQuarantine deletes messages of the quarantine that came before an
// instant, or are more than it is to hold now, in one short transaction, and
// gives how many: call it again until that is 0.
func (s *Store) PruneQuarantine(ctx context.Context, before reading.Instant) (deleted int, err error) {
	err = s.inTx(ctx, func(tx *sql.Tx) error {
		deleted, err = rowsOf(tx.ExecContext(ctx, `DELETE FROM quarantine WHERE id IN (
			SELECT id FROM quarantine WHERE at < $1 OR id <= (SELECT MAX(id) FROM quarantine) - $2 LIMIT $3)`,
			int64(before), s.keep, deletesAtOnce))
		return err
	})
	return deleted, wrap("delete from the quarantine", err)
}

// Optimize lets SQLite renew what it knows about its tables, where they have
// changed much; it is meant to be called every few hours
// (sqlite.org/pragma.html#pragma_optimize).
func (s *Store) Optimize(ctx context.Context) error {
	if s.writer == nil {
		return ErrReadOnly
	}
	_, err := s.writer.ExecContext(ctx, `PRAGMA optimize`)
	return wrap("optimize the store", err)
}

func rowsOf(r sql.Result, err error) (int, error) {
	if err != nil {
		return 0, err
	}
	n, err := r.RowsAffected()
	return int(n), err
}
