package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
)

// Derive runs a transaction on a writing connection whose commit does not wait
// for the disk: for what follows from the log, so that it can be found again.
// A process that dies loses nothing of it. Where the power fails it may be
// undone, with what was committed after it and never without: every commit
// that does wait for the disk makes those before it last as well.
func Derive(ctx context.Context, writer *sql.DB, do func(*sql.Tx) error) error {
	conn, err := writer.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if err := synchronous(ctx, conn, "NORMAL"); err != nil {
		return err
	}
	defer restore(context.WithoutCancel(ctx), conn)
	return Transact(ctx, conn, do)
}

// restore makes commits wait for the disk again. A connection that does not
// take that is given up: the next one begins as openWriter says.
func restore(ctx context.Context, conn *sql.Conn) {
	if err := synchronous(ctx, conn, "FULL"); err != nil {
		_ = conn.Raw(func(any) error { return driver.ErrBadConn })
	}
}

func synchronous(ctx context.Context, conn *sql.Conn, level string) error {
	_, err := conn.ExecContext(ctx, "PRAGMA synchronous = "+level)
	return err
}

// beginner is what begins a transaction: a pool or one connection of it.
type beginner interface {
	BeginTx(ctx context.Context, o *sql.TxOptions) (*sql.Tx, error)
}

// Transact runs a transaction: all of it is kept or nothing.
func Transact(ctx context.Context, b beginner, do func(*sql.Tx) error) error {
	tx, err := b.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // does nothing after a commit
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// inTx runs a transaction of the store's own, whose commit waits for the disk.
// So do those that only lay out anew what was kept: else the next Keep would
// wait for all that they wrote.
func (s *Store) inTx(ctx context.Context, do func(*sql.Tx) error) error {
	if s.writer == nil {
		return ErrReadOnly
	}
	return Transact(ctx, s.writer, do)
}
