package ingest

import (
	"context"
	"sync"
)

// Signal tells followers of the log that it has grown.
type Signal struct {
	mu      sync.Mutex
	last    int64
	changed chan struct{}
}

func (s *Signal) set(last int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.last = max(s.last, last)
	close(s.changed)
	s.changed = make(chan struct{})
}

// Appended gives the id of the last line kept by this run, 0 before the first,
// and a channel that is closed when there is a later one.
func (s *Signal) Appended() (last int64, later <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.last, s.changed
}

// Await waits until a line above id after has been kept and gives the last id.
func (s *Signal) Await(ctx context.Context, after int64) (last int64, err error) {
	for {
		last, later := s.Appended()
		if last > after {
			return last, nil
		}
		select {
		case <-later:
		case <-ctx.Done():
			return last, ctx.Err()
		}
	}
}
