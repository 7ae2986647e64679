package store

import (
	"context"
	"database/sql"
)

type asker interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

type execer interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

func fact(ctx context.Context, q asker, name string) (v int64, err error) {
	err = q.QueryRowContext(ctx, `SELECT value FROM fact WHERE name = $1`, name).Scan(&v)
	return v, err
}

func setFact(ctx context.Context, e execer, name string, v int64) error {
	_, err := e.ExecContext(ctx, `UPDATE fact SET value = $2 WHERE name = $1`, name, v)
	return err
}
