package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"strings"
)

// Backup writes a consistent, compact copy of the store to dest while it is in
// use, without holding up Keep. It takes the state at its start; dest must
// not exist.
func (s *Store) Backup(ctx context.Context, dest string) error {
	own, err := sql.Open("sqlite", dsn(s.path, url.Values{}))
	if err != nil {
		return wrap("back up to "+dest, err)
	}
	defer own.Close()
	_, err = own.ExecContext(ctx, `VACUUM INTO $1`, dest)
	return wrap("back up to "+dest, err)
}

// errDamaged is what Check returns for a file that contradicts itself.
var errDamaged = errors.New("the store is damaged: restore the last backup")

// Check reads the whole file and looks for damage.
func (s *Store) Check(ctx context.Context) error {
	found, err := Collect(ctx, s.reader, func(rows *sql.Rows) (line string, err error) {
		err = rows.Scan(&line)
		return line, err
	}, `PRAGMA integrity_check`)
	if err != nil {
		return wrap("check the store", err)
	}
	if len(found) == 1 && found[0] == "ok" {
		return nil
	}
	return fmt.Errorf("%w: %s", errDamaged, strings.Join(found, "; "))
}
