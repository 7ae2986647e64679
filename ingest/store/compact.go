package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"slices"

	"heaterd/ingest/reading"
)

// place is where compacted samples live.
type place struct{ node, hour int64 }

// block is one row of block and of hour, ready to be written.
type block struct {
	place
	body   []byte
	totals totals
}

// One transaction of Compact or Thin writes or deletes at most so many rows:
// Keep waits for it, so it must be over in a millisecond or two. Measured:
// with ten times as many a line waits four times as long to be kept, and
// compaction gains an eighth.
const (
	blocksAtOnce  = 16
	deletesAtOnce = 100
)

// Compact moves packs from the log to blocks by node and hour, joining their
// samples with what is there. It works upward from where it stopped, takes
// lines with ids under below that arrived before olderThan, at most batch of
// them, and gives how many lines it passed over: call it again until that is
// 0. Ticks and refusals among them are deleted; status words and what people
// did stay in the log. below must not exceed the line after the cursor of any
// follower, for Lines gives the moved packs no more.
//
// It writes in short transactions, all blocks before the first line is
// deleted: what a crash leaves in both places counts once, for samples of one
// instant are merged. A large batch writes each block less often.
func (s *Store) Compact(ctx context.Context, below int64, olderThan reading.Instant, batch int) (passed int, err error) {
	s.compacting.Lock()
	defer s.compacting.Unlock()
	from, err := s.Compacted(ctx)
	if err != nil {
		return 0, err
	}
	// Reading, merging and encoding happen outside the writing transactions;
	// nobody else changes blocks.
	found, upto, passed, err := s.oldPacks(ctx, from, below, olderThan, batch)
	if err != nil || passed == 0 {
		return 0, wrap("compact the log", err)
	}
	blocks, err := s.mergeBlocks(ctx, found)
	if err != nil {
		return 0, wrap("compact the log", err)
	}
	return passed, wrap("compact the log", s.moveBlocks(ctx, blocks, from, upto))
}

func (s *Store) oldPacks(ctx context.Context, from, below int64, olderThan reading.Instant, batch int) (
	found map[place][]reading.Sample, upto int64, passed int, err error) {
	rows, err := s.reader.QueryContext(ctx, `SELECT id, at, kind, COALESCE(node, 0), body FROM log
		WHERE id > $1 AND id < $2 ORDER BY id LIMIT $3`, from, below, batch)
	if err != nil {
		return nil, 0, 0, err
	}
	defer rows.Close()
	found = map[place][]reading.Sample{}
	var buf []reading.Sample
	for rows.Next() {
		var id, at, node int64
		var k kind
		var body sql.RawBytes
		if err := rows.Scan(&id, &at, &k, &node, &body); err != nil {
			return nil, 0, 0, err
		}
		if reading.Instant(at) >= olderThan {
			break
		}
		upto, passed = id, passed+1
		if k != kindPack {
			continue
		}
		if buf, _, err = decodePack(buf[:0], body, reading.Instant(at)); err != nil {
			return nil, 0, 0, err
		}
		for _, sample := range buf {
			p := place{node, hourOf(sample.At)}
			found[p] = append(found[p], sample)
		}
	}
	return found, upto, passed, rows.Err()
}

// mergeBlocks joins new samples with those already in their blocks.
func (s *Store) mergeBlocks(ctx context.Context, found map[place][]reading.Sample) ([]block, error) {
	old, err := s.reader.PrepareContext(ctx, `SELECT body FROM block WHERE node = $1 AND hour = $2`)
	if err != nil {
		return nil, err
	}
	defer old.Close()
	pruned, err := fact(ctx, s.reader, "pruned")
	if err != nil {
		return nil, err
	}
	blocks := make([]block, 0, len(found))
	for p, samples := range found {
		if p.hour < pruned { // its block is gone and its figures are final
			continue
		}
		var body []byte
		err := old.QueryRowContext(ctx, p.node, p.hour).Scan(&body)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return nil, err
		}
		if body != nil {
			c := cursor{b: body}
			if samples = c.samples(samples, startOf(p.hour)); c.err != nil {
				return nil, c.err
			}
		}
		samples = mergeSamples(samples)
		blocks = append(blocks, block{p, appendSamples(nil, startOf(p.hour), samples), totalOf(samples)})
	}
	slices.SortFunc(blocks, func(a, b block) int { // neighbours on disk together
		return cmp.Or(cmp.Compare(a.node, b.node), cmp.Compare(a.hour, b.hour))
	})
	return blocks, nil
}

// moveBlocks writes the blocks, then deletes what they replace.
func (s *Store) moveBlocks(ctx context.Context, blocks []block, from, upto int64) error {
	if from == 0 {
		if err := s.noteBegun(ctx); err != nil {
			return err
		}
	}
	for part := range slices.Chunk(blocks, blocksAtOnce) {
		if err := s.inTx(ctx, func(tx *sql.Tx) error { return putBlocks(ctx, tx, part) }); err != nil {
			return err
		}
	}
	for ; from < upto; from += deletesAtOnce {
		if err := s.dropLines(ctx, from, min(from+deletesAtOnce, upto)); err != nil {
			return err
		}
	}
	return nil
}

// noteBegun keeps the time of the first line, which is about to go.
func (s *Store) noteBegun(ctx context.Context) error {
	at, err := s.Begun(ctx)
	if err != nil {
		return err
	}
	return s.inTx(ctx, func(tx *sql.Tx) error { return setFact(ctx, tx, "begun", int64(at)) })
}

// dropLines deletes the lines above from up to upto that blocks replace.
func (s *Store) dropLines(ctx context.Context, from, upto int64) error {
	return s.inTx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM log WHERE id > $1 AND id <= $2 AND kind IN ($3, $4, $5)`,
			from, upto, int(kindTick), int(kindPack), int(kindRefused))
		if err != nil {
			return err
		}
		return setFact(ctx, tx, "compacted", upto)
	})
}

func putBlocks(ctx context.Context, tx *sql.Tx, blocks []block) error {
	put, err := tx.PrepareContext(ctx, `INSERT INTO block (node, hour, body) VALUES ($1, $2, $3)
		ON CONFLICT (node, hour) DO UPDATE SET body = excluded.body`)
	if err != nil {
		return err
	}
	defer put.Close()
	sum, err := tx.PrepareContext(ctx, `INSERT INTO hour
		(node, hour, samples, seen_s, lit_s, co_n, co_min, co_sum, co_max, temp_n, temp_min, temp_sum, temp_max)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)
		ON CONFLICT (node, hour) DO UPDATE SET samples = excluded.samples, seen_s = excluded.seen_s, lit_s = excluded.lit_s,
		co_n = excluded.co_n, co_min = excluded.co_min, co_sum = excluded.co_sum, co_max = excluded.co_max,
		temp_n = excluded.temp_n, temp_min = excluded.temp_min, temp_sum = excluded.temp_sum, temp_max = excluded.temp_max`)
	if err != nil {
		return err
	}
	defer sum.Close()
	for _, b := range blocks {
		if _, err := put.ExecContext(ctx, b.node, b.hour, b.body); err != nil {
			return err
		}
		t := b.totals
		if _, err := sum.ExecContext(ctx, b.node, b.hour, t.samples, t.seen, t.lit,
			t.co.n, t.co.min, t.co.sum, t.co.max, t.temp.n, t.temp.min, t.temp.sum, t.temp.max); err != nil {
			return err
		}
	}
	return nil
}
