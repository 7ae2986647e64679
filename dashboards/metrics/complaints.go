package metrics

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"
)

// complainEvery is the least time between two complaints. Common practice, no
// source.
const complainEvery = time.Minute

// complaints hands promhttp's to the log. It has one for every family that it
// could not send: a server that asks and hangs up would fill the log.
type complaints struct {
	log *slog.Logger

	mu   sync.Mutex
	last time.Time
}

// Println takes one complaint. That the asker is gone is none.
func (c *complaints) Println(v ...any) {
	for _, one := range v {
		if err, ok := one.(error); ok && errors.Is(err, context.Canceled) {
			return
		}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if now := time.Now(); now.Sub(c.last) >= complainEvery {
		c.last = now
		c.log.Warn("the metrics page could not be served in full", "err", fmt.Sprint(v...))
	}
}
