package ledger

import (
	"context"
	"database/sql"
	"fmt"

	"heaterd/ingest/reading"
)

// Withdrawal is a person's word that a line of the service log was wrong.
type Withdrawal struct {
	At  reading.Instant `json:"at"`
	By  string          `json:"by,omitempty"`
	Why string          `json:"why"`
}

// WithdrawalRow is a withdrawal with the line of the entry that it is of.
type WithdrawalRow struct {
	Line int64 `json:"line"`
	Withdrawal
}

func writeWithdrawals(ctx context.Context, tx *sql.Tx, b *Batch) error {
	for _, r := range b.Withdrawals {
		raw, err := body(r)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO withdrawal (entry, at, body) VALUES ($1, $2, $3)
			ON CONFLICT (entry) DO NOTHING`, r.Line, int64(r.At), raw); err != nil {
			return fmt.Errorf("cannot write the withdrawal of line %d: %w", r.Line, err)
		}
	}
	return nil
}

// withdrawn marks the entries that were withdrawn.
func (l *Ledger) withdrawn(ctx context.Context, all []EntryRow) error {
	if len(all) == 0 {
		return nil
	}
	first, last := all[0].Line, all[0].Line
	for i := range all {
		first, last = min(first, all[i].Line), max(last, all[i].Line)
	}
	rows, err := bodies[WithdrawalRow](ctx, l.reader, `SELECT body FROM withdrawal WHERE entry >= $1 AND entry <= $2`, first, last)
	if err != nil {
		return fmt.Errorf("cannot read the withdrawals of the service log: %w", err)
	}
	of := make(map[int64]*Withdrawal, len(rows))
	for i := range rows {
		of[rows[i].Line] = &rows[i].Withdrawal
	}
	for i := range all {
		all[i].Withdrawn = of[all[i].Line]
	}
	return nil
}
