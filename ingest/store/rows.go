package store

import (
	"context"
	"database/sql"
)

type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// Collect gives what scan makes of each row of an answer, in their order;
// after an error, nothing.
func Collect[T any](ctx context.Context, q querier, scan func(*sql.Rows) (T, error), query string, args ...any) ([]T, error) {
	var all []T
	err := each(ctx, q, func(rows *sql.Rows) error {
		one, err := scan(rows)
		all = append(all, one)
		return err
	}, query, args...)
	if err != nil {
		return nil, err
	}
	return all, nil
}

// each hands the rows of an answer to f one by one, until f fails.
func each(ctx context.Context, q querier, f func(*sql.Rows) error, query string, args ...any) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
