package store

import (
	"context"
	"database/sql"
	"errors"
)

// Snapshot is what a follower of the log remembers: the state it had folded
// when it had read the log up to and including line Cursor.
type Snapshot struct {
	Name   string
	Cursor int64
	Body   []byte
}

// SaveSnapshot keeps one snapshot in place of the last of that name.
func (s *Store) SaveSnapshot(ctx context.Context, name string, cursor int64, body []byte) error {
	return wrap("save snapshot "+name, s.inTx(ctx, func(tx *sql.Tx) error { return putSnapshot(ctx, tx, Snapshot{name, cursor, body}) }))
}

// PutSnapshot keeps a snapshot within a transaction of the caller's, so that
// it lasts exactly when the caller's own rows do.
func PutSnapshot(ctx context.Context, tx *sql.Tx, one Snapshot) error {
	return wrap("save snapshot "+one.Name, putSnapshot(ctx, tx, one))
}

func putSnapshot(ctx context.Context, tx *sql.Tx, one Snapshot) error {
	if one.Body == nil {
		one.Body = []byte{}
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO snapshot (name, cursor, body) VALUES ($1, $2, $3)
		ON CONFLICT (name) DO UPDATE SET cursor = excluded.cursor, body = excluded.body`, one.Name, one.Cursor, one.Body)
	return err
}

// LoadSnapshot gives the snapshot of that name; ok is false when there is none.
func (s *Store) LoadSnapshot(ctx context.Context, name string) (cursor int64, body []byte, ok bool, err error) {
	err = s.reader.QueryRowContext(ctx, `SELECT cursor, body FROM snapshot WHERE name = $1`, name).Scan(&cursor, &body)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil, false, nil
	}
	return cursor, body, err == nil, wrap("load snapshot "+name, err)
}

// SnapshotCursor gives how far the follower of that name had read when it last
// kept a snapshot; ok is false when there is none.
func (s *Store) SnapshotCursor(ctx context.Context, name string) (cursor int64, ok bool, err error) {
	err = s.reader.QueryRowContext(ctx, `SELECT cursor FROM snapshot WHERE name = $1`, name).Scan(&cursor)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, false, nil
	}
	return cursor, err == nil, wrap("load snapshot "+name, err)
}
