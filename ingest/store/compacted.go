package store

import (
	"context"
	"database/sql"

	"heaterd/ingest/reading"
)

// Begun gives when the first line of all arrived; 0 for an empty log.
func (s *Store) Begun(ctx context.Context) (at reading.Instant, err error) {
	n, err := fact(ctx, s.reader, "begun")
	if err == nil && n == 0 {
		err = s.reader.QueryRowContext(ctx, `SELECT COALESCE((SELECT at FROM log ORDER BY id LIMIT 1), 0)`).Scan(&n)
	}
	return reading.Instant(n), wrap("read the log", err)
}

// CompactedSpan gives the start of the first and the end of the last hour that
// have compacted samples; equal where there are none.
func (s *Store) CompactedSpan(ctx context.Context) (from, to reading.Instant, err error) {
	var first, last sql.NullInt64
	err = s.reader.QueryRowContext(ctx, `SELECT (SELECT MIN(hour) FROM block), (SELECT MAX(hour) FROM block)`).Scan(&first, &last)
	if err != nil || !first.Valid {
		return 0, 0, wrap("read samples", err)
	}
	return startOf(first.Int64), startOf(last.Int64 + 1), nil
}

// CompactedHour calls f with the compacted samples of each node measured in
// the hour that an instant lies in, ascending by time; f must not keep them.
// The nodes come in the order they were first heard. It gives the start of
// the next hour that has any; ok is false where none has.
func (s *Store) CompactedHour(ctx context.Context, at reading.Instant, f func(reading.NodeID, []reading.Sample)) (
	next reading.Instant, ok bool, err error) {
	hour := hourOf(at)
	if err := s.hourBlocks(ctx, hour, f); err != nil {
		return 0, false, wrap("read samples", err)
	}
	var later sql.NullInt64
	err = s.reader.QueryRowContext(ctx, `SELECT MIN(hour) FROM block WHERE hour > $1`, hour).Scan(&later)
	if err != nil || !later.Valid {
		return 0, false, wrap("read samples", err)
	}
	return startOf(later.Int64), true, nil
}

func (s *Store) hourBlocks(ctx context.Context, hour int64, f func(reading.NodeID, []reading.Sample)) error {
	var buf []reading.Sample
	return each(ctx, s.reader, func(rows *sql.Rows) error {
		var name string
		var body sql.RawBytes
		if err := rows.Scan(&name, &body); err != nil {
			return err
		}
		c := cursor{b: body}
		if buf = c.samples(buf[:0], startOf(hour)); c.err != nil {
			return c.err
		}
		f(reading.NodeID(name), buf)
		return nil
	}, `SELECT n.name, b.body FROM block b JOIN node n ON n.id = b.node
		WHERE b.hour = $1 ORDER BY b.node`, hour)
}
