package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"path/filepath"

	"github.com/pressly/goose/v3"
)

// Migrations are the store's own schema files, numbered below 100. Other
// packages that keep tables in the same file number theirs from 100 and hand
// them to Open.
var Migrations = func() fs.FS { sub, _ := fs.Sub(files, "migrations"); return sub }()

//go:embed migrations/*.sql
var files embed.FS

const (
	applicationID = 0x48454154 // "HEAT", the file's magic number (PRAGMA application_id)
	formatVersion = 1          // PRAGMA user_version; raised when an older heaterd must not open the file
)

// identify marks a new file as ours and refuses one that is not.
func identify(ctx context.Context, db *sql.DB) error {
	ours, err := recognise(ctx, db)
	if ours || err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, formatVersion))
	return err
}

// recognise reports whether the file is ours; one that is empty is nobody's.
func recognise(ctx context.Context, db *sql.DB) (ours bool, err error) {
	app, version, objects := 0, 0, 0
	for _, q := range []struct {
		query string
		into  *int
	}{
		{"PRAGMA application_id", &app}, {"PRAGMA user_version", &version}, {"SELECT COUNT(*) FROM sqlite_master", &objects},
	} {
		if err := db.QueryRowContext(ctx, q.query).Scan(q.into); err != nil {
			return false, err
		}
	}
	switch {
	case app == applicationID && version <= formatVersion:
		return true, nil
	case app == 0 && objects == 0:
		return false, nil
	}
	return false, fmt.Errorf("%w: application id %#x, version %d", ErrForeign, app, version)
}

// assertPragmas checks what durability rests on: a file system without shared
// memory, for one, silently keeps another journal mode.
func assertPragmas(ctx context.Context, db *sql.DB) error {
	for _, p := range [][2]string{{"journal_mode", "wal"}, {"synchronous", "2"}, {"foreign_keys", "1"}} {
		var got string
		if err := db.QueryRowContext(ctx, "PRAGMA "+p[0]).Scan(&got); err != nil {
			return err
		}
		if got != p[1] {
			return fmt.Errorf("pragma %s is %q, need %q: put the store on a local disk", p[0], got, p[1])
		}
	}
	return nil
}

// migrate applies each set of schema files in turn; they share one numbering.
func (s *Store) migrate(ctx context.Context, extra []fs.FS) error {
	for _, set := range append([]fs.FS{Migrations}, extra...) {
		p, err := schema(s.writer, set)
		if err != nil {
			return err
		}
		done, err := p.Up(ctx)
		if err != nil {
			return err
		}
		for _, m := range done {
			s.log.Info("schema changed", "file", filepath.Base(m.Source.Path), "took", m.Duration)
		}
	}
	return nil
}

// has gives ErrEarlier where a file of a set was not applied.
func (s *Store) has(ctx context.Context, set fs.FS) error {
	p, err := schema(s.reader, set)
	if err != nil {
		return err
	}
	lacking, err := p.HasPending(ctx)
	if err == nil && lacking {
		err = ErrEarlier
	}
	return err
}

func schema(db *sql.DB, set fs.FS) (*goose.Provider, error) {
	return goose.NewProvider(goose.DialectSQLite3, db, set, goose.WithAllowOutofOrder(true), goose.WithDisableGlobalRegistry(true))
}
