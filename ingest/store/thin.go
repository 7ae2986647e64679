package store

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"heaterd/ingest/reading"
)

// thinStep is how far apart the samples that Thin leaves are at most, where
// nothing happens between them: near enough for the flame to be believed in
// between. Common practice, no source.
const thinStep = 10 * time.Minute

// thinQuantities are what run-hours rest on.
const thinQuantities = reading.Flame | reading.Runtime

// Thin leaves of the samples of hours before an instant only what run-hours
// and burns rest on, flame and counter every ten minutes and wherever they
// change, so that these can always be worked out again. It takes the oldest
// hour that is whole, and gives how many nodes it had: call it again until
// that is 0. Packs still in the log are not touched, the figures of the hours
// stay for charts, and what arrives later for those hours is not kept.
func (s *Store) Thin(ctx context.Context, before reading.Instant) (nodes int, err error) {
	s.compacting.Lock()
	defer s.compacting.Unlock()
	if err := s.closeHours(ctx, hourOf(before)); err != nil {
		return 0, wrap("thin old readings", err)
	}
	hour, ok, err := s.oldestWhole(ctx, hourOf(before))
	if err != nil || !ok {
		return 0, wrap("thin old readings", err)
	}
	blocks, err := s.thinned(ctx, hour)
	if err == nil {
		err = s.writeThin(ctx, hour, blocks)
	}
	return len(blocks), wrap("thin old readings", err)
}

// DaysBack gives the start of the n-th of the days (UTC) that have compacted
// samples, counted back from the newest; ok is false where there are fewer.
func (s *Store) DaysBack(ctx context.Context, n int) (start reading.Instant, ok bool, err error) {
	var hour sql.NullInt64
	err = s.reader.QueryRowContext(ctx, `WITH RECURSIVE days (n, hour) AS (
			SELECT 1, MAX(hour) FROM block
			UNION ALL SELECT d.n + 1, (SELECT MAX(b.hour) FROM block b WHERE b.hour < d.hour - d.hour % 24) FROM days d
				WHERE d.hour IS NOT NULL AND d.n < $1)
		SELECT MIN(hour - hour % 24) FROM days WHERE n = $1`, n).Scan(&hour)
	return startOf(hour.Int64), hour.Valid, wrap("count the days of readings", err)
}

// closeHours says that nothing is added any more to hours before this one.
func (s *Store) closeHours(ctx context.Context, hour int64) error {
	return s.inTx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE fact SET value = $1 WHERE name = 'pruned' AND value < $1`, hour)
		return err
	})
}

func (s *Store) oldestWhole(ctx context.Context, limit int64) (hour int64, ok bool, err error) {
	from, err := fact(ctx, s.reader, "thinned")
	if err != nil {
		return 0, false, err
	}
	var oldest sql.NullInt64
	err = s.reader.QueryRowContext(ctx, `SELECT MIN(hour) FROM block WHERE hour >= $1 AND hour < $2`, from, limit).Scan(&oldest)
	return oldest.Int64, oldest.Valid, err
}

// thinned reads the blocks of an hour and thins them.
func (s *Store) thinned(ctx context.Context, hour int64) ([]block, error) {
	return Collect(ctx, s.reader, func(rows *sql.Rows) (block, error) {
		b := block{place: place{hour: hour}}
		var body sql.RawBytes
		if err := rows.Scan(&b.node, &body); err != nil {
			return b, err
		}
		c := cursor{b: body}
		if few := thin(c.samples(nil, startOf(hour))); len(few) > 0 {
			b.body = appendSamples(nil, startOf(hour), few)
		}
		return b, c.err
	}, `SELECT node, body FROM block WHERE hour = $1 ORDER BY node`, hour)
}

// writeThin puts thinned blocks in place of whole ones; the hour is done only
// when all are, for thinning one twice changes nothing.
func (s *Store) writeThin(ctx context.Context, hour int64, blocks []block) error {
	for part := range slices.Chunk(blocks, blocksAtOnce) {
		if err := s.inTx(ctx, func(tx *sql.Tx) error { return replaceBlocks(ctx, tx, part) }); err != nil {
			return err
		}
	}
	return s.inTx(ctx, func(tx *sql.Tx) error { return setFact(ctx, tx, "thinned", hour+1) })
}

func replaceBlocks(ctx context.Context, tx *sql.Tx, blocks []block) error {
	for _, b := range blocks {
		query, args := `UPDATE block SET body = $3 WHERE node = $1 AND hour = $2`, []any{b.node, b.hour, b.body}
		if b.body == nil {
			query, args = `DELETE FROM block WHERE node = $1 AND hour = $2`, args[:2]
		}
		if _, err := tx.ExecContext(ctx, query, args...); err != nil {
			return err
		}
	}
	return nil
}

// thin gives the samples that flame and counter can be followed by.
func thin(all []reading.Sample) []reading.Sample {
	var told, kept []reading.Sample
	for _, x := range all {
		if has := x.Has & thinQuantities; has != 0 {
			told = append(told, reading.Sample{At: x.At, Runtime: x.Runtime, Has: has, On: x.On & has})
		}
	}
	for i, x := range told {
		edge := i == 0 || i == len(told)-1 || happens(told[i-1], x) || happens(x, told[i+1])
		if edge || x.At.Sub(kept[len(kept)-1].At) >= thinStep {
			kept = append(kept, x)
		}
	}
	return kept
}

// happens reports whether something is to be told from the step from one
// sample to the next: the flame changes, the counter runs without it or begins
// anew, another quantity is sent, or samples are missing.
func happens(a, b reading.Sample) bool {
	both := a.Has & b.Has
	runs := both&reading.Runtime != 0 && (b.Runtime < a.Runtime || b.Runtime > a.Runtime && !a.Lit() && !b.Lit())
	return a.Has != b.Has || a.Lit() != b.Lit() || runs || b.At.Sub(a.At) > holdLimit
}
