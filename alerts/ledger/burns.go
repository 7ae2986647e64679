package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// BurnRow is a burn as far as it is known.
type BurnRow struct {
	outcome.Burn
	Final bool `json:"final"` // its start, end and ending can no longer change
}

func writeBurns(ctx context.Context, tx *sql.Tx, b *Batch) error {
	for _, r := range b.Burns {
		if err := writeBurn(ctx, tx, r); err != nil {
			return fmt.Errorf("cannot write the burn of %s from %s: %w", r.Heater, r.Start, err)
		}
	}
	return nil
}

// writeBurn puts a burn in place of the provisional ones of the same stretch
// of time: later readings may have moved its start or joined two. Where a
// final one stands already, it stays.
func writeBurn(ctx context.Context, tx *sql.Tx, r BurnRow) error {
	raw, err := body(r)
	if err != nil {
		return err
	}
	start, end := int64(r.Start), int64(r.End)
	if _, err = tx.ExecContext(ctx, `DELETE FROM burn
		WHERE heater = $1 AND final = 0 AND (start_at = $2 OR start_at < $3 AND end_at > $2)`, r.Heater, start, end); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO burn (heater, start_at, end_at, final, body)
		SELECT $1, $2, $3, $4, $5 WHERE NOT EXISTS (
			SELECT 1 FROM burn WHERE heater = $1 AND final = 1
			AND (start_at = $2 OR start_at < $3 AND end_at > $2))`,
		r.Heater, start, end, flag(r.Final), raw)
	return err
}

// Burns lists a heater's burns that overlap from–to (0: no bound), oldest
// first; an empty heater stands for all.
func (l *Ledger) Burns(ctx context.Context, heater string, from, to reading.Instant) ([]BurnRow, error) {
	query, args := burnsOf(heater, from, to)
	rows, err := bodies[BurnRow](ctx, l.reader, query, args...)
	if err != nil {
		return nil, fmt.Errorf("cannot read the burns: %w", err)
	}
	return rows, nil
}

// NewestBurns lists the newest of a heater's burns that overlap from–to, as many
// as the limit, oldest first. They never overlap each other, so those that ended
// last began last.
func (l *Ledger) NewestBurns(ctx context.Context, heater string, from, to reading.Instant, limit int) ([]BurnRow, error) {
	where := during(heater, from, to)
	query := `SELECT body FROM burn` + where.String() + fmt.Sprintf(" ORDER BY end_at DESC LIMIT $%d", len(where.args)+1)
	rows, err := bodies[BurnRow](ctx, l.reader, query, append(where.args, limit)...)
	if err != nil {
		return nil, fmt.Errorf("cannot read the burns: %w", err)
	}
	slices.Reverse(rows)
	return rows, nil
}

func burnsOf(heater string, from, to reading.Instant) (query string, args []any) {
	where := during(heater, from, to)
	return `SELECT body FROM burn` + where.String() + ` ORDER BY start_at, heater`, where.args
}

// during looks burns up by when they end: most that began before an instant
// ended long before it. The sum keeps SQLite from looking by their start.
func during(heater string, from, to reading.Instant) *terms {
	where := &terms{}
	where.add("heater = $%d", heater, heater != "")
	where.add("end_at >= $%d", int64(from), from != 0)
	where.add("start_at + 0 < $%d", int64(to), to != 0)
	return where
}
