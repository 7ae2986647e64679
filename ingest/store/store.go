package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

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
	readers       = 4          // reading connections: pages, followers, a report and one to spare

	// checkpointPages is how far the write-ahead log grows before it is folded
	// into the file, 16 MiB in pages of 4 KiB: most pages are then written there
	// once for many commits. Measured: a twelfth less time per row than the
	// usual 1000.
	checkpointPages = 4000
)

// Store is an open store.
type Store struct {
	path    string
	log     *slog.Logger
	writer  *sql.DB
	reader  *sql.DB
	unclean bool
	keep    int // quarantined messages

	compacting sync.Mutex // held over one Compact

	insert *sql.Stmt // of one line, on writer

	last atomic.Int64 // id of the last line kept

	mu    sync.Mutex // held over one Append; guards what follows, and who changes last
	nodes map[string]node
	stale bool  // the last transaction failed
	args  []any // of a statement, to be used again
}

type node struct {
	id   int64
	span int64 // µs
}

// Open opens the store at path, creating it if it is not there and bringing
// its schema up to date; extra holds the schema files of other packages. The
// directory must exist. It returns ErrForeign for another program's file and
// an ErrUnavailable where the file cannot be used.
func Open(ctx context.Context, path string, log *slog.Logger, extra ...fs.FS) (*Store, error) {
	s := &Store{path: path, log: log, keep: defaultQuarantine}
	if err := s.open(ctx, extra); err != nil {
		s.closePools()
		return nil, wrap("open store "+path, err)
	}
	return s, nil
}

func (s *Store) open(ctx context.Context, extra []fs.FS) error {
	if err := touch(s.path); err != nil {
		return err
	}
	if err := s.openWriter(ctx); err != nil {
		return err
	}
	if err := s.migrate(ctx, extra); err != nil {
		return err
	}
	if err := s.openReader(); err != nil {
		return err
	}
	return s.resume(ctx)
}

func (s *Store) openReader() (err error) {
	s.reader, err = sql.Open("sqlite", dsn(s.path, url.Values{"_query_only": {"1"}}))
	if err == nil {
		s.reader.SetMaxOpenConns(readers)
	}
	return err
}

// OpenReader opens a store that is there, only to read, also while a daemon
// has it open: for reports, checks and backups. Whatever writes returns
// ErrReadOnly, and Writer gives nil. needs holds the schema files without
// which its caller cannot read; a store that an earlier heaterd left gives
// ErrEarlier.
func OpenReader(ctx context.Context, path string, log *slog.Logger, needs ...fs.FS) (*Store, error) {
	s := &Store{path: path, log: log}
	err := s.attach(ctx)
	for _, set := range needs {
		if err == nil {
			err = s.has(ctx, set)
		}
	}
	if err != nil {
		s.closePools()
		return nil, wrap("open store "+path, err)
	}
	return s, nil
}

func (s *Store) attach(ctx context.Context) error {
	if _, err := os.Stat(s.path); err != nil {
		return &Unavailable{Op: "open " + s.path, Err: err, Hint: "check the configured path"}
	}
	if err := s.openReader(); err != nil {
		return err
	}
	ours, err := recognise(ctx, s.reader)
	if err == nil && !ours {
		err = fmt.Errorf("%w: the file is empty", ErrForeign)
	}
	if err != nil {
		return err
	}
	return s.reload(ctx)
}

func (s *Store) openWriter(ctx context.Context) (err error) {
	s.writer, err = sql.Open("sqlite", dsn(s.path, url.Values{
		"_txlock":       {"immediate"},
		"_journal_mode": {"WAL"},
		"_synchronous":  {"FULL"},
		"_foreign_keys": {"1"},
		"_defensive":    {"1"},
		"_pragma":       {fmt.Sprintf("wal_autocheckpoint(%d)", checkpointPages)},
	}))
	if err != nil {
		return err
	}
	s.writer.SetMaxOpenConns(1)
	if err := identify(ctx, s.writer); err != nil {
		return err
	}
	return assertPragmas(ctx, s.writer)
}

// touch creates a missing file readable by its owner only; SQLite gives its
// side files the same mode.
func touch(path string) error {
	f, err := os.OpenFile(path, os.O_RDONLY|os.O_CREATE, 0o600)
	if err != nil {
		return &Unavailable{Op: "open " + path, Err: err,
			Hint: "check that the directory exists and the daemon's user may write there"}
	}
	return f.Close()
}

// dsn builds the driver's name for path; busy_timeout is per connection and
// long enough for another process's backup to step aside.
func dsn(path string, v url.Values) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	v.Set("_busy_timeout", "5000") // ms
	return "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + v.Encode()
}

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

// resume reads where the log ends and sets the running mark.
func (s *Store) resume(ctx context.Context) error {
	if err := s.reload(ctx); err != nil {
		return err
	}
	running, err := fact(ctx, s.writer, "running")
	if err != nil {
		return err
	}
	s.unclean = running != 0
	if s.insert, err = s.writer.PrepareContext(ctx, insertLine); err != nil {
		return err
	}
	// The last step is taken whole, even by a caller who gives up meanwhile:
	// only what is open will clear the mark.
	return setFact(context.WithoutCancel(ctx), s.writer, "running", 1)
}

// reload reads what Append keeps in memory.
func (s *Store) reload(ctx context.Context) error {
	var last int64
	if err := s.reader.QueryRowContext(ctx, `SELECT COALESCE(MAX(id), 0) FROM log`).Scan(&last); err != nil {
		return err
	}
	compacted, err := fact(ctx, s.reader, "compacted")
	if err != nil {
		return err
	}
	nodes, err := loadNodes(ctx, s.reader)
	if err != nil {
		return err
	}
	s.last.Store(max(last, compacted))
	s.nodes = nodes
	return nil
}

func loadNodes(ctx context.Context, db *sql.DB) (map[string]node, error) {
	rows, err := db.QueryContext(ctx, `SELECT id, name, span FROM node`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	nodes := map[string]node{}
	for rows.Next() {
		var n node
		var name string
		if err := rows.Scan(&n.id, &name, &n.span); err != nil {
			return nil, err
		}
		nodes[name] = n
	}
	return nodes, rows.Err()
}

// Close clears the running mark, folds the write-ahead log into the file and
// closes it.
func (s *Store) Close() error {
	if s.writer == nil {
		return wrap("close store", s.closePools())
	}
	ctx := context.Background()
	err := setFact(ctx, s.writer, "running", 0)
	if s.reader != nil {
		err = errors.Join(err, s.reader.Close())
	}
	_, ckpt := s.writer.ExecContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`)
	return wrap("close store", errors.Join(err, ckpt, s.closePools()))
}

func (s *Store) closePools() error {
	var errs []error
	for _, db := range []*sql.DB{s.reader, s.writer} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	return errors.Join(errs...)
}

// Unclean reports whether the store was not closed the last time it was open:
// the daemon was killed or the power went. Nothing that was acknowledged is
// missing; it is worth a metric.
func (s *Store) Unclean() bool { return s.unclean }

// Writer is the one writing connection, for packages that keep their own
// tables here. A transaction begun on it holds up Append until it ends, so it
// must be short.
func (s *Store) Writer() *sql.DB { return s.writer }

// Reader is the pool of read-only connections.
func (s *Store) Reader() *sql.DB { return s.reader }

type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

type execer interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

func fact(ctx context.Context, q querier, name string) (v int64, err error) {
	err = q.QueryRowContext(ctx, `SELECT value FROM fact WHERE name = $1`, name).Scan(&v)
	return v, err
}

func setFact(ctx context.Context, e execer, name string, v int64) error {
	_, err := e.ExecContext(ctx, `UPDATE fact SET value = $2 WHERE name = $1`, name, v)
	return err
}
