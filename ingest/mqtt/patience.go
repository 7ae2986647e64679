package mqtt

import (
	"context"
	"errors"
	"time"
)

var errNoAnswer = errors.New("the broker does not answer")

// whileItComes gives a context that ends once nothing has come for as long as
// an answer may take. The answer stands behind the messages that waited at the
// broker: who hung up before all of them were taken would have them again from
// the beginning, and on a slow machine never see the end.
func (s *Subscriber) whileItComes(ctx context.Context) (context.Context, context.CancelCauseFunc) {
	ctx, cancel := context.WithCancelCause(ctx)
	go func() {
		tick := time.NewTicker(s.patience)
		defer tick.Stop()
		for before := s.handed.Load(); ; {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			now := s.handed.Load()
			if now == before {
				cancel(errNoAnswer)
				return
			}
			before = now
		}
	}()
	return ctx, cancel
}
