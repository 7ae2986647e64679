package store

import (
	"context"
	"database/sql"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// Lines gives at most limit lines with ids above after, in order of id, each
// as it was appended (a pack without samples comes back with nil Samples).
// Packs and ticks at or below Compacted are no longer among them.
func (s *Store) Lines(ctx context.Context, after int64, limit int) ([]record.Line, error) {
	lines, err := Collect(ctx, s.reader, scanLine, `SELECT l.id, l.at, l.kind, l.retained, COALESCE(n.name, ''), l.body
		FROM log l LEFT JOIN node n ON n.id = l.node WHERE l.id > $1 ORDER BY l.id LIMIT $2`, after, limit)
	return lines, wrap("read the log", err)
}

func scanLine(rows *sql.Rows) (l record.Line, err error) {
	var r row
	var at, retained int64
	var node string
	var body sql.RawBytes
	if err := rows.Scan(&l.ID, &at, &r.kind, &retained, &node, &body); err != nil {
		return l, err
	}
	l.At, l.Retained = reading.Instant(at), retained != 0
	r.node, r.body = reading.NodeID(node), body
	return l, r.tell(&l)
}

// Last gives the id of the last line kept, 0 for an empty log. It waits for
// nothing, not even for a Keep that waits for the disk.
func (s *Store) Last() int64 { return s.last.Load() }

// Compacted gives the id up to which packs are kept by node and hour only;
// followers that start from an older line must read Samples instead.
func (s *Store) Compacted(ctx context.Context) (int64, error) {
	id, err := fact(ctx, s.reader, "compacted")
	return id, wrap("read the log", err)
}
