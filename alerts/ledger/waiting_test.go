package ledger

import (
	"encoding/json"
	"errors"
	"testing"
	"time"

	"heaterd/ingest/reading"
)

// A message that fails again and again has waited since it failed first, however
// soon it is tried next; one whose step is to come has not waited at all.
func TestWaitingCountsFromTheFirstFailure(t *testing.T) {
	l := open(t)
	job := func(id string, due time.Duration) Job {
		return Job{ID: id, Channel: "mail", Person: "p1", Body: json.RawMessage(`{}`), Created: zero, NextAttempt: at(due)}
	}
	oldest := func(want reading.Instant) {
		t.Helper()
		c, err := l.Waiting(ctx)
		must(t, err)
		if c.Oldest != want {
			t.Errorf("oldest %s, want %s", c.Oldest, want)
		}
	}
	oldest(0)
	must(t, l.Commit(ctx, Batch{Cursor: 1, Jobs: []Job{job("later", time.Hour), job("failing", 0)}}))
	oldest(zero)
	for _, after := range []time.Duration{time.Second, time.Minute, 20 * time.Minute} {
		_, err := l.Claim(ctx, at(after), time.Minute, 5)
		must(t, err)
		must(t, l.MarkFailed(ctx, "failing", at(after), at(after+time.Minute), errors.New("no answer")))
		oldest(at(time.Second))
	}
	must(t, l.MarkSent(ctx, "failing", at(21*time.Minute)))
	oldest(at(time.Hour))
}
