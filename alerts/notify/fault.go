package notify

import (
	"errors"
	"time"
)

// ErrGone says that the receiver wants nothing more on this channel (HTTP
// 410): nothing is sent on it until a test message succeeds or the daemon
// starts again.
var ErrGone = errors.New("the receiver is gone")

// A permanentError will not go away by trying again.
type permanentError struct{ error }

func (e permanentError) Unwrap() error { return e.error }

// Permanent marks an error of a sender that trying again cannot mend: the
// message is given up and the next channel takes over.
func Permanent(err error) error { return permanentError{err} }

// IsPermanent reports whether trying again is in vain.
func IsPermanent(err error) bool {
	_, permanent := errors.AsType[permanentError](err)
	return permanent || errors.Is(err, ErrGone)
}

// RetryError is an error of a receiver that said when to come back.
type RetryError struct {
	After time.Duration
	Err   error
}

func (e *RetryError) Error() string { return e.Err.Error() }
func (e *RetryError) Unwrap() error { return e.Err }

// RetryAfter marks an error with when the receiver wants to be asked again.
func RetryAfter(d time.Duration, err error) error { return &RetryError{d, err} }
