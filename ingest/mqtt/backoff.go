package mqtt

import (
	"context"
	"math/rand/v2"
	"time"
)

// Pauses between attempts to connect: doubling, capped, and each drawn between
// half and the whole so that a fleet of clients does not come back in step.
// Common practice, no source.
const (
	firstPause = 500 * time.Millisecond
	lastPause  = 15 * time.Second
	settled    = 30 * time.Second // a connection that held this long starts over
)

type backoff struct{ next time.Duration }

// pause gives the next pause.
func (b *backoff) pause() time.Duration {
	b.next = min(max(2*b.next, firstPause), lastPause)
	return b.next/2 + rand.N(b.next/2)
}

// wait sleeps for the next pause or until ctx ends.
func (b *backoff) wait(ctx context.Context) {
	t := time.NewTimer(b.pause())
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
