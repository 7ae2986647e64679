package store

import (
	"context"
	"database/sql"
	"errors"
	"net/url"
)

// Copy writes a consistent, compact copy of the store at from to a new file,
// also while a daemon has it open, and changes nothing in it.
func Copy(ctx context.Context, from, to string) error {
	db, err := sql.Open("sqlite", dsn(from, url.Values{}))
	if err != nil {
		return wrap("open store "+from, err)
	}
	_, err = db.ExecContext(ctx, `VACUUM INTO $1`, to)
	return errors.Join(wrap("copy the store to "+to, err), db.Close())
}
