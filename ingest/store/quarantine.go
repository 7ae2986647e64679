package store

import (
	"context"
	"database/sql"
	"strings"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// defaultQuarantine is how many unreadable messages are kept, the newest;
// common practice, no source.
const defaultQuarantine = 1000

// payloadKept is how much of an unreadable message is kept, in bytes: enough
// to see what it was; common practice, no source.
const payloadKept = 64 << 10

// Quarantined is a message that could not be read.
type Quarantined struct {
	ID      int64
	At      reading.Instant
	Refused record.Refused
	Payload []byte // the first 64 KiB, or as much as was asked for
}

// KeepQuarantined sets how many messages the quarantine holds; call it before
// the store is used.
func (s *Store) KeepQuarantined(n int) { s.keep = n }

func (s *Store) insertQuarantine(ctx context.Context, tx *sql.Tx, all []Quarantined) error {
	var last int64
	for _, q := range all[max(0, len(all)-s.keep):] {
		err := tx.QueryRowContext(ctx, `INSERT INTO quarantine (at, topic, node, reason, detail, payload)
			VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`, int64(q.At), text(q.Refused.Topic), text(string(q.Refused.Node)),
			string(q.Refused.Reason), text(q.Refused.Detail), kept(q.Payload)).Scan(&last)
		if err != nil {
			return err
		}
	}
	if last == 0 {
		return nil
	}
	_, err := tx.ExecContext(ctx, `DELETE FROM quarantine WHERE id <= $1`, last-int64(s.keep))
	return err
}

func text(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

func kept(payload []byte) []byte {
	if payload == nil {
		return []byte{}
	}
	return payload[:min(len(payload), payloadKept)]
}

// Heard reports whether anything ever came from a node, be it a message that
// could not be read, as far as those are kept.
func (s *Store) Heard(ctx context.Context, node reading.NodeID) (heard bool, err error) {
	err = s.reader.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM node WHERE name = $1)
		OR EXISTS (SELECT 1 FROM quarantine WHERE node = $1)`, string(node)).Scan(&heard)
	return heard, wrap("look for a node", err)
}

// Unlisted is a node that the configuration does not list.
type Unlisted struct {
	Node reading.NodeID
	At   reading.Instant // of the newest message of it that is kept
}

// unlistedSought is in how many of the newest kept messages unlisted nodes are
// looked for; common practice, no source.
const unlistedSought = 2000

// ListUnlisted gives the nodes of which a message was refused since an instant
// because the configuration does not list them, the newest first.
func (s *Store) ListUnlisted(ctx context.Context, since reading.Instant) ([]Unlisted, error) {
	all, err := Collect(ctx, s.reader, scanUnlisted, `SELECT node, MAX(at) FROM (SELECT node, at, reason FROM quarantine ORDER BY id DESC LIMIT $1) AS newest
		WHERE reason = $2 AND at >= $3 GROUP BY node ORDER BY MAX(at) DESC, node`, unlistedSought, string(reading.NotListed), int64(since))
	return all, wrap("look for unlisted nodes", err)
}

func scanUnlisted(rows *sql.Rows) (u Unlisted, err error) {
	err = rows.Scan((*string)(&u.Node), (*int64)(&u.At))
	return u, err
}

// ListQuarantine gives the newest limit messages, newest first, with so many
// bytes of each; of one node where node is not empty.
func (s *Store) ListQuarantine(ctx context.Context, node reading.NodeID, limit, bytes int) ([]Quarantined, error) {
	all, err := Collect(ctx, s.reader, scanQuarantined, `SELECT id, at, topic, node, reason, detail, substr(payload, 1, $3) FROM quarantine
		WHERE node = $1 OR $1 = '' ORDER BY id DESC LIMIT $2`, string(node), limit, bytes)
	return all, wrap("read the quarantine", err)
}

func scanQuarantined(rows *sql.Rows) (q Quarantined, err error) {
	err = rows.Scan(&q.ID, (*int64)(&q.At), &q.Refused.Topic, (*string)(&q.Refused.Node),
		(*string)(&q.Refused.Reason), &q.Refused.Detail, &q.Payload)
	return q, err
}
