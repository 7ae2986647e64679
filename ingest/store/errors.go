package store

import (
	"errors"
	"fmt"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// ErrUnavailable marks every failure that is not the caller's: the disk is
// full, the file is locked, read-only, damaged or gone. What was attempted was
// not kept and may be tried again.
var ErrUnavailable = errors.New("store unavailable")

// ErrForeign is returned by Open for a file that another program made or that
// a newer heaterd has changed.
var ErrForeign = errors.New("not a heaterd store of a known version")

// ErrEarlier is returned by OpenReader for a store that lacks what this heaterd
// reads.
var ErrEarlier = errors.New("an earlier heaterd left the store: start the daemon once, which brings it up to date")

// ErrReadOnly is returned by what writes, on a store that OpenReader opened.
var ErrReadOnly = errors.New("the store was opened only to read")

// Unavailable says what could not be done and what the operator can do.
type Unavailable struct {
	Op   string
	Hint string
	Err  error
}

func (u *Unavailable) Error() string {
	return fmt.Sprintf("cannot %s: %v (%s)", u.Op, u.Err, u.Hint)
}

// Unwrap gives both ErrUnavailable and the cause.
func (u *Unavailable) Unwrap() []error { return []error{ErrUnavailable, u.Err} }

var hints = map[int]string{
	lib.SQLITE_FULL:     "the disk is full: free some space; nothing is lost while the broker keeps its queue",
	lib.SQLITE_BUSY:     "another process holds the file locked: end it, or wait for its backup to finish",
	lib.SQLITE_LOCKED:   "another process holds the file locked: end it, or wait for its backup to finish",
	lib.SQLITE_READONLY: "the file or its directory is read-only: check the mount and the owner",
	lib.SQLITE_PERM:     "the daemon's user may not write there: check owner and mode",
	lib.SQLITE_CANTOPEN: "the file cannot be opened: check that the directory exists and the daemon's user may write there",
	lib.SQLITE_IOERR:    "the disk reported an error: check the disk and the kernel's log",
	lib.SQLITE_CORRUPT:  "the file is damaged: stop the daemon and restore the last backup",
	lib.SQLITE_NOTADB:   "the file is not a database: check the configured path",
}

// wrap gives err the operation's name, and ErrUnavailable with a hint where
// the fault lies in the file or the disk.
func wrap(op string, err error) error {
	if err == nil {
		return nil
	}
	if se, ok := errors.AsType[*sqlite.Error](err); ok {
		if hint, ok := hints[se.Code()&0xff]; ok { // low byte: the primary code (sqlite.org/rescode.html)
			return &Unavailable{Op: op, Hint: hint, Err: err}
		}
	}
	return fmt.Errorf("cannot %s: %w", op, err)
}
