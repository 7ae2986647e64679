package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
)

const (
	readers = 4 // reading connections: pages, followers, a report and one to spare

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

	mu    sync.Mutex // held over one Keep; guards what follows, and who changes last
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

// reload reads what Keep keeps in memory.
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
	nodes := map[string]node{}
	err := each(ctx, db, func(rows *sql.Rows) error {
		var n node
		var name string
		err := rows.Scan(&n.id, &name, &n.span)
		nodes[name] = n
		return err
	}, `SELECT id, name, span FROM node`)
	return nodes, err
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
// tables here. A transaction begun on it holds up Keep until it ends, so it
// must be short.
func (s *Store) Writer() *sql.DB { return s.writer }

// Reader is the pool of read-only connections.
func (s *Store) Reader() *sql.DB { return s.reader }
