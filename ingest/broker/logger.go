package broker

import (
	"errors"
	"fmt"
	"log/slog"
	"sync"
)

// logger gives the server's words to slog; its notices are many, so they count
// as debugging.
type logger struct {
	log *slog.Logger

	mu   sync.Mutex
	died string // what it said last before giving up
}

func (l *logger) Noticef(f string, v ...any) { l.log.Debug("broker", "said", fmt.Sprintf(f, v...)) }
func (l *logger) Warnf(f string, v ...any)   { l.log.Warn("broker", "said", fmt.Sprintf(f, v...)) }
func (l *logger) Errorf(f string, v ...any)  { l.log.Error("broker", "said", fmt.Sprintf(f, v...)) }
func (l *logger) Debugf(f string, v ...any)  {}
func (l *logger) Tracef(f string, v ...any)  {}

func (l *logger) Fatalf(f string, v ...any) {
	l.Errorf(f, v...)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.died = fmt.Sprintf(f, v...)
}

func (l *logger) fatal() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.died == "" {
		return nil
	}
	return errors.New(l.died)
}
