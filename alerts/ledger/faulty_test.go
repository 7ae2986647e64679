package ledger

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"strings"
	"sync/atomic"
)

// A faulty connection is SQLite's own, but the statement the countdown ends
// on fails, or the commit does, as if the disk had gone.
type faultyDriver struct {
	driver.Driver
	left *atomic.Int64
}

var errFault = errors.New("the disk went away")

// countdown is shared by all faulty connections; at 0 or below nothing fails.
var countdown atomic.Int64

func init() {
	plain, err := sql.Open("sqlite", "")
	if err != nil {
		panic(err)
	}
	sql.Register("faulty", faultyDriver{plain.Driver(), &countdown})
}

func (d faultyDriver) Open(name string) (driver.Conn, error) {
	c, err := d.Driver.Open(name)
	return &faultyConn{c, d.left}, err
}

type faultyConn struct {
	driver.Conn
	left *atomic.Int64
}

func (c *faultyConn) fails() bool { return c.left.Load() > 0 && c.left.Add(-1) == 0 }

func (c *faultyConn) ExecContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Result, error) {
	if !strings.HasPrefix(q, "PRAGMA") && c.fails() { // how commits wait for the disk is no part of them
		return nil, errFault
	}
	return c.Conn.(driver.ExecerContext).ExecContext(ctx, q, args)
}

func (c *faultyConn) QueryContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Rows, error) {
	if c.fails() {
		return nil, errFault
	}
	return c.Conn.(driver.QueryerContext).QueryContext(ctx, q, args)
}

func (c *faultyConn) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	if c.fails() {
		return nil, errFault
	}
	tx, err := c.Conn.(driver.ConnBeginTx).BeginTx(ctx, o)
	return &faultyTx{tx, c}, err
}

type faultyTx struct {
	driver.Tx
	c *faultyConn
}

func (t *faultyTx) Commit() error {
	if t.c.fails() {
		return errors.Join(errFault, t.Tx.Rollback())
	}
	return t.Tx.Commit()
}
