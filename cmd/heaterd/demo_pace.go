package main

import (
	"context"
	"time"

	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/ingest/reading"
)

// paced is the outbox by the demo's clock: the courier lives by the wall
// clock, and the model's time passes faster.
type paced struct {
	notify.Outbox
	now   func() reading.Instant
	speed float64
}

// Claim takes over what is due by the demo's clock.
func (p paced) Claim(ctx context.Context, _ reading.Instant, lease time.Duration, limit int) ([]ledger.Job, error) {
	return p.Outbox.Claim(ctx, p.now(), p.passes(lease), limit)
}

// MarkSent says that a message was handed over now.
func (p paced) MarkSent(ctx context.Context, id string, _ reading.Instant) error {
	return p.Outbox.MarkSent(ctx, id, p.now())
}

// MarkFailed puts the next attempt off by as much as the courier meant.
func (p paced) MarkFailed(ctx context.Context, id string, at, next reading.Instant, cause error) error {
	now := p.now()
	return p.Outbox.MarkFailed(ctx, id, now, now.Add(p.passes(next.Sub(at))), cause)
}

// MarkDead says that a message was given up now.
func (p paced) MarkDead(ctx context.Context, id string, _ reading.Instant, cause error) error {
	return p.Outbox.MarkDead(ctx, id, p.now(), cause)
}

// NextDue tells by the wall clock when the next message is due.
func (p paced) NextDue(ctx context.Context) (reading.Instant, bool, error) {
	due, ok, err := p.Outbox.NextDue(ctx)
	wait := time.Duration(float64(due.Sub(p.now())) / p.speed)
	return reading.InstantOf(time.Now()).Add(wait), ok, err
}

// passes is how much of the demo's time passes in some time of the wall clock.
func (p paced) passes(d time.Duration) time.Duration {
	return time.Duration(float64(d) * p.speed)
}
