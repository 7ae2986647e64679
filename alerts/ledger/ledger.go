package ledger

import (
	"context"
	"database/sql"
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"

	"heaterd/alerts/alarm"
	"heaterd/ingest/store"
)

// Migrations are the ledger's schema files, for store.Open.
var Migrations = func() fs.FS { sub, _ := fs.Sub(files, "migrations"); return sub }()

//go:embed migrations/*.sql
var files embed.FS

// Ledger is the ledger in an open store.
type Ledger struct {
	writer, reader *sql.DB
}

// New makes a ledger on a store that was opened with Migrations.
func New(s *store.Store) *Ledger { return &Ledger{s.Writer(), s.Reader()} }

// Batch is what a stretch of the log led to.
type Batch struct {
	Cursor      int64              // the last line of the log that was read; never moves back
	Transitions []alarm.Transition // in order
	Alarms      []alarm.Alarm      // rows as they are now: alarm.Book.Touched
	Burns       []BurnRow
	Entries     []EntryRow
	Withdrawals []WithdrawalRow
	Jobs        []Job           // new messages; what the claims and marks keep is ignored
	Snapshot    *store.Snapshot // the engine's own memory; nil: not this time
}

// writes are the parts of a commit, in order.
var writes = []func(context.Context, *sql.Tx, *Batch) error{
	writeTransitions, writeAlarms, writeBurns, writeEntries, writeWithdrawals, writeJobs, cancelQuieted, cancelEased, writeSnapshot, writeCursor,
}

// Commit writes the whole batch or nothing of it. Committing a batch again
// changes nothing. It does not wait for the disk: where the power fails the
// batch is found again in the log, which is on the disk before it is read.
func (l *Ledger) Commit(ctx context.Context, b Batch) error {
	err := store.Derive(ctx, l.writer, func(tx *sql.Tx) error {
		for _, write := range writes {
			if err := write(ctx, tx, &b); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("cannot commit up to line %d: %w", b.Cursor, err)
	}
	return nil
}

// Cursor gives how far the log has been folded: the id of its last line.
func (l *Ledger) Cursor(ctx context.Context) (cursor int64, err error) {
	if err := l.reader.QueryRowContext(ctx, `SELECT cursor FROM ledger`).Scan(&cursor); err != nil {
		return 0, fmt.Errorf("cannot read how far the log has been folded: %w", err)
	}
	return cursor, nil
}

func writeCursor(ctx context.Context, tx *sql.Tx, b *Batch) error {
	_, err := tx.ExecContext(ctx, `UPDATE ledger SET cursor = $1 WHERE cursor < $1`, b.Cursor)
	return err
}

func writeSnapshot(ctx context.Context, tx *sql.Tx, b *Batch) error {
	if b.Snapshot == nil {
		return nil
	}
	return store.PutSnapshot(ctx, tx, *b.Snapshot)
}

// bodies reads rows of one JSON column.
func bodies[T any](ctx context.Context, db *sql.DB, query string, args ...any) ([]T, error) {
	return store.Collect(ctx, db, func(rows *sql.Rows) (one T, err error) {
		var raw sql.RawBytes
		if err := rows.Scan(&raw); err != nil {
			return one, err
		}
		return one, json.Unmarshal(raw, &one)
	}, query, args...)
}

func body(v any) (string, error) {
	raw, err := json.Marshal(v)
	return string(raw), err
}

func flag(b bool) int {
	if b {
		return 1
	}
	return 0
}
