package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// window is how much of a node's time is read at once; a day of readings every
// few seconds is about a megabyte.
const window = 24 * time.Hour

// Samples calls f with the node's samples measured at or after from and before
// to, ascending by time, those of one instant merged, until f returns false.
// What it reads is the state of the store while it reads it, a day at a time.
func (s *Store) Samples(ctx context.Context, id reading.NodeID, from, to reading.Instant, f func(reading.Sample) bool) error {
	n, ok, err := s.findNode(ctx, id)
	if err != nil || !ok {
		return wrap("read samples", err)
	}
	var buf []reading.Sample
	for from < to {
		start, err := s.nextData(ctx, n, from)
		if err != nil {
			return wrap("read samples", err)
		}
		from = max(from, start)
		end := min(to, from.Add(window))
		if from >= to {
			return nil
		}
		if buf, err = s.windowSamples(ctx, buf[:0], n, from, end); err != nil {
			return wrap("read samples", err)
		}
		for _, sample := range buf {
			if !f(sample) {
				return nil
			}
		}
		from = end
	}
	return nil
}

func (s *Store) findNode(ctx context.Context, id reading.NodeID) (n node, ok bool, err error) {
	err = s.reader.QueryRowContext(ctx, `SELECT id, span FROM node WHERE name = $1`, string(id)).Scan(&n.id, &n.span)
	if errors.Is(err, sql.ErrNoRows) {
		return n, false, nil
	}
	return n, err == nil, err
}

// noData is later than any instant.
const noData = reading.Instant(1<<63 - 1)

// nextData gives an instant at or before the node's next sample from the given
// one on, so that long stretches without data cost nothing.
func (s *Store) nextData(ctx context.Context, n node, from reading.Instant) (reading.Instant, error) {
	var hour, last sql.NullInt64
	err := s.reader.QueryRowContext(ctx, `SELECT (SELECT MIN(hour) FROM block WHERE node = $1 AND hour >= $2),
		(SELECT MIN(last_at) FROM log WHERE kind = 1 AND node = $1 AND last_at >= $3)`,
		n.id, hourOf(from), int64(from)).Scan(&hour, &last)
	next := noData
	if hour.Valid {
		next = startOf(hour.Int64)
	}
	if last.Valid {
		next = min(next, reading.Instant(last.Int64-n.span))
	}
	return next, err
}

// windowSamples appends the merged samples of one window to dst. Blocks and
// log are read in one transaction, for Compact moves samples between them.
func (s *Store) windowSamples(ctx context.Context, dst []reading.Sample, n node, from, to reading.Instant) ([]reading.Sample, error) {
	tx, err := s.reader.BeginTx(ctx, nil)
	if err != nil {
		return dst, err
	}
	defer func() { _ = tx.Rollback() }()
	if dst, err = blockSamples(ctx, tx, dst, n, from, to); err != nil {
		return dst, err
	}
	if dst, err = logSamples(ctx, tx, dst, n, from, to); err != nil {
		return dst, err
	}
	dst = mergeSamples(dst)
	return slices.DeleteFunc(dst, func(s reading.Sample) bool { return s.At < from || s.At >= to }), nil
}

func blockSamples(ctx context.Context, q querier, dst []reading.Sample, n node, from, to reading.Instant) ([]reading.Sample, error) {
	err := each(ctx, q, func(rows *sql.Rows) error {
		var hour int64
		var body sql.RawBytes
		if err := rows.Scan(&hour, &body); err != nil {
			return err
		}
		c := cursor{b: body}
		dst = c.samples(dst, startOf(hour))
		return c.err
	}, `SELECT hour, body FROM block WHERE node = $1 AND hour BETWEEN $2 AND $3 ORDER BY hour`,
		n.id, hourOf(from), hourOf(to-1))
	return dst, err
}

func logSamples(ctx context.Context, q querier, dst []reading.Sample, n node, from, to reading.Instant) ([]reading.Sample, error) {
	err := each(ctx, q, func(rows *sql.Rows) (err error) {
		var at int64
		var body sql.RawBytes
		if err := rows.Scan(&at, &body); err != nil {
			return err
		}
		dst, _, err = decodePack(dst, body, reading.Instant(at))
		return err
	}, `SELECT at, body FROM log
		WHERE kind = 1 AND node = $1 AND last_at BETWEEN $2 AND $3 AND first_at < $4 ORDER BY last_at`,
		n.id, int64(from), int64(to)+n.span, int64(to))
	return dst, err
}

// mergeSamples sorts by time and joins those of one instant, in place.
func mergeSamples(all []reading.Sample) []reading.Sample {
	slices.SortStableFunc(all, func(a, b reading.Sample) int { return cmp.Compare(a.At, b.At) })
	out := all[:0]
	for _, s := range all {
		if n := len(out); n > 0 && out[n-1].At == s.At {
			out[n-1] = out[n-1].Merge(s)
			continue
		}
		out = append(out, s)
	}
	return out
}

const microsPerHour = int64(time.Hour / time.Microsecond)

// hourOf gives the hour since 1970 an instant lies in, rounding down.
func hourOf(i reading.Instant) int64 {
	h := int64(i) / microsPerHour
	if int64(i)%microsPerHour < 0 {
		h--
	}
	return h
}

func startOf(hour int64) reading.Instant { return reading.Instant(hour * microsPerHour) }
