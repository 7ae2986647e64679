package ledger

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// JobState is where a message is.
type JobState string

// The states of a message.
const (
	Pending   JobState = "pending"
	Sent      JobState = "sent"
	Dead      JobState = "dead"      // given up
	Cancelled JobState = "cancelled" // no longer needed before it was sent
)

// Job is one message to one person by one channel.
type Job struct {
	ID          string // follows from alarm, change, step, person and channel: the receiver's key against repetition
	Alarm       string // id; empty: about no alarm (a digest), never cancelled
	Seq         int    // number of the alarm's change that called for it
	Channel     string
	Person      string
	Step        int             // of the escalation, from 0
	Body        json.RawMessage // what the sender needs, as JSON
	Created     reading.Instant
	NextAttempt reading.Instant

	State       JobState
	Attempts    int // begun so far
	LastError   string
	DeliveredAt reading.Instant
}

const jobColumns = `id, alarm, seq, channel, person, step, body, created, next_attempt, state, attempts, last_error, delivered_at`

func writeJobs(ctx context.Context, tx *sql.Tx, b *Batch) error {
	for _, j := range b.Jobs {
		_, err := tx.ExecContext(ctx, `INSERT INTO job (`+jobColumns+`)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, 'pending', 0, '', 0) ON CONFLICT (id) DO NOTHING`,
			j.ID, j.Alarm, j.Seq, j.Channel, j.Person, j.Step, string(j.Body), int64(j.Created), int64(j.NextAttempt))
		if err != nil {
			return fmt.Errorf("cannot write message %s: %w", j.ID, err)
		}
	}
	return nil
}

// cancelQuieted cancels what is pending for alarms that a later change has
// quieted: for the alarms that changed, and for messages that come after
// their alarm was answered.
func cancelQuieted(ctx context.Context, tx *sql.Tx, b *Batch) error {
	ids := map[string]bool{}
	for _, t := range b.Transitions {
		ids[t.Alarm.ID] = true
	}
	for _, j := range b.Jobs {
		ids[j.Alarm] = true
	}
	delete(ids, "") // about no alarm
	for _, id := range slices.Sorted(maps.Keys(ids)) {
		if _, err := tx.ExecContext(ctx, `UPDATE job SET state = 'cancelled' WHERE alarm = $1 AND state = 'pending'
			AND seq < (SELECT MAX(seq) FROM alarm_change WHERE alarm = $1 AND quiets = 1)`, id); err != nil {
			return fmt.Errorf("cannot cancel messages about %s: %w", id, err)
		}
	}
	return nil
}

// cancelEased cancels the later steps that are pending for alarms that ended
// by themselves.
func cancelEased(ctx context.Context, tx *sql.Tx, b *Batch) error {
	for _, t := range b.Transitions {
		if !eases(t) {
			continue
		}
		if _, err := tx.ExecContext(ctx, `UPDATE job SET state = 'cancelled' WHERE alarm = $1 AND state = 'pending'
			AND step > 0 AND seq < $2`, t.Alarm.ID, t.Alarm.Seq); err != nil {
			return fmt.Errorf("cannot cancel later messages about %s: %w", t.Alarm.ID, err)
		}
	}
	return nil
}

// What is due, and what comes next, by the index of what waits.
const (
	dueJobs = `SELECT ` + jobColumns + ` FROM job WHERE state = 'pending' AND next_attempt <= $1 ORDER BY next_attempt, id LIMIT $2`
	nextDue = `SELECT MIN(next_attempt) FROM job WHERE state = 'pending'`
	dated   = `UPDATE job SET next_attempt = next_attempt - (created - $1), created = $1 WHERE state = 'pending' AND created > $1`
)

// Claim takes up to limit messages that are due at now, the longest due
// first, and holds them for the lease: unless marked, they are due again when
// it ends. A lease must be longer than one attempt to send can take. Messages
// dated after now were made before the clock was set back: they count from now.
func (l *Ledger) Claim(ctx context.Context, now reading.Instant, lease time.Duration, limit int) ([]Job, error) {
	var due []Job
	err := store.Derive(ctx, l.writer, func(tx *sql.Tx) (err error) {
		if err := followClock(ctx, tx, now); err != nil {
			return err
		}
		due, err = store.Collect(ctx, tx, scanJob, dueJobs, int64(now), limit)
		if err != nil {
			return err
		}
		return hold(ctx, tx, due, now.Add(lease))
	})
	if err != nil {
		return nil, fmt.Errorf("cannot claim messages: %w", err)
	}
	return due, nil
}

// followClock moves what is dated ahead of the clock back to it, and with it
// when it is due: nobody may wait for a page until the clock is there again.
func followClock(ctx context.Context, tx *sql.Tx, now reading.Instant) error {
	_, err := tx.ExecContext(ctx, dated, int64(now))
	return err
}

func hold(ctx context.Context, tx *sql.Tx, due []Job, until reading.Instant) error {
	for i := range due {
		due[i].Attempts++
		due[i].NextAttempt = until
		if _, err := tx.ExecContext(ctx, `UPDATE job SET attempts = $2, next_attempt = $3 WHERE id = $1`,
			due[i].ID, due[i].Attempts, int64(until)); err != nil {
			return err
		}
	}
	return nil
}

// errNoSuchJob is returned for an id that the outbox does not have.
var errNoSuchJob = errors.New("no such message")

// MarkSent notes that the message was handed over. It holds even if it was
// cancelled meanwhile: it did go out.
func (l *Ledger) MarkSent(ctx context.Context, id string, at reading.Instant) error {
	return l.mark(ctx, id, at, "", `UPDATE job SET state = 'sent', delivered_at = $2, last_error = '' WHERE id = $1`, int64(at))
}

// MarkFailed notes that an attempt failed and when to try next. A message
// that was cancelled meanwhile stays so.
func (l *Ledger) MarkFailed(ctx context.Context, id string, at, next reading.Instant, cause error) error {
	return l.mark(ctx, id, at, cause.Error(), `UPDATE job SET next_attempt = $2, last_error = $3 WHERE id = $1 AND state <> 'sent'`,
		int64(next), cause.Error())
}

// MarkDead notes that the message is given up.
func (l *Ledger) MarkDead(ctx context.Context, id string, at reading.Instant, cause error) error {
	return l.mark(ctx, id, at, cause.Error(), `UPDATE job SET last_error = $2,
		state = CASE state WHEN 'pending' THEN 'dead' ELSE state END WHERE id = $1`, cause.Error())
}

// MarkNeedless notes that nothing is left to tell: it was no attempt, and
// nobody was failed.
func (l *Ledger) MarkNeedless(ctx context.Context, id string) error {
	err := store.Transact(ctx, l.writer, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, `UPDATE job SET state = CASE state WHEN 'pending' THEN 'cancelled' ELSE state END WHERE id = $1`, id)
		if err != nil {
			return err
		}
		return known(r)
	})
	if err != nil {
		return fmt.Errorf("cannot mark message %s: %w", id, err)
	}
	return nil
}

// Retry makes due now what failed on a channel and waits for another attempt.
// What is on its way it leaves alone: that has an attempt more than came to an
// end. So has what a process died with, until it is due beyond an instant.
func (l *Ledger) Retry(ctx context.Context, channel string, now, beyond reading.Instant) error {
	return l.hasten(ctx, `UPDATE job SET next_attempt = $1 WHERE state = 'pending' AND channel = $2 AND last_error <> '' AND next_attempt > $1
		AND (next_attempt > $3 OR attempts <= (SELECT COUNT(*) FROM delivery WHERE delivery.job = job.id))`,
		int64(now), channel, int64(beyond))
}

// BringForward makes due now a message whose time has not come; one that was
// tried, or called off, it leaves alone.
func (l *Ledger) BringForward(ctx context.Context, id string, now reading.Instant) error {
	return l.hasten(ctx, `UPDATE job SET next_attempt = $1 WHERE id = $2 AND state = 'pending' AND attempts = 0 AND next_attempt > $1`, int64(now), id)
}

func (l *Ledger) hasten(ctx context.Context, update string, args ...any) error {
	err := store.Derive(ctx, l.writer, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, update, args...)
		return err
	})
	if err != nil {
		return fmt.Errorf("cannot bring messages forward: %w", err)
	}
	return nil
}

// mark changes the job and writes down the attempt.
func (l *Ledger) mark(ctx context.Context, id string, at reading.Instant, cause, update string, args ...any) error {
	err := store.Transact(ctx, l.writer, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, update, append([]any{id}, args...)...); err != nil {
			return err
		}
		r, err := tx.ExecContext(ctx, `INSERT INTO delivery (job, at, ok, error)
			SELECT id, $2, $3, $4 FROM job WHERE id = $1`, id, int64(at), flag(cause == ""), cause)
		if err != nil {
			return err
		}
		return known(r)
	})
	if err != nil {
		return fmt.Errorf("cannot mark message %s: %w", id, err)
	}
	return nil
}

func known(r sql.Result) error {
	n, err := r.RowsAffected()
	if err == nil && n == 0 {
		err = errNoSuchJob
	}
	return err
}

// NextDue says when the next message is due; ok is false if none waits.
func (l *Ledger) NextDue(ctx context.Context) (at reading.Instant, ok bool, err error) {
	var next sql.NullInt64
	err = l.reader.QueryRowContext(ctx, nextDue).Scan(&next)
	if err != nil {
		return 0, false, fmt.Errorf("cannot look for due messages: %w", err)
	}
	return reading.Instant(next.Int64), next.Valid, nil
}

// JobsOf lists the messages about an alarm, oldest first.
func (l *Ledger) JobsOf(ctx context.Context, alarm string) ([]Job, error) {
	all, err := store.Collect(ctx, l.reader, scanJob, `SELECT `+jobColumns+` FROM job WHERE alarm = $1 ORDER BY created, step, id`, alarm)
	if err != nil {
		return nil, fmt.Errorf("cannot list messages: %w", err)
	}
	return all, nil
}

func scanJob(rows *sql.Rows) (j Job, err error) {
	var raw []byte
	err = rows.Scan(&j.ID, &j.Alarm, &j.Seq, &j.Channel, &j.Person, &j.Step, &raw, &j.Created, &j.NextAttempt,
		&j.State, &j.Attempts, &j.LastError, &j.DeliveredAt)
	if len(raw) > 0 {
		j.Body = json.RawMessage(raw)
	}
	return j, err
}

// Delivery is one attempt to send a message.
type Delivery struct {
	At    reading.Instant
	OK    bool
	Error string
}

// Deliveries lists the attempts to send a message, oldest first.
func (l *Ledger) Deliveries(ctx context.Context, job string) ([]Delivery, error) {
	all, err := store.Collect(ctx, l.reader, scanDelivery, `SELECT at, ok, error FROM delivery WHERE job = $1 ORDER BY id`, job)
	if err != nil {
		return nil, fmt.Errorf("cannot list deliveries: %w", err)
	}
	return all, nil
}

func scanDelivery(rows *sql.Rows) (d Delivery, err error) {
	err = rows.Scan(&d.At, &d.OK, &d.Error)
	return d, err
}
