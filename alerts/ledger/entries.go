package ledger

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// EntryRow is a line of the service log.
type EntryRow struct {
	Line  int64           `json:"line"` // of the log; above 0
	At    reading.Instant `json:"at"`   // when it was written down
	Entry record.Entry    `json:"entry"`
	From  reading.Instant `json:"from,omitzero"`  // a planned stop only: when it begins, where that is not At
	Until reading.Instant `json:"until,omitzero"` // a planned stop only: when it ends
	// Withdrawn tells who withdrew it; nil: it stands. Set where the log is read.
	Withdrawn *Withdrawal `json:"withdrawn,omitempty"`
}

// RowOf gives the row of a line of the log that is for the service log: work,
// or a planned stop.
func RowOf(l record.Line) (r EntryRow, ok bool) {
	r = EntryRow{Line: l.ID, At: l.At}
	switch {
	case l.Entry != nil:
		r.Entry = *l.Entry
	case l.Stop != nil:
		r.stopped(l.Stop)
	default:
		return EntryRow{}, false
	}
	return r, true
}

func (r *EntryRow) stopped(s *record.PlannedStop) {
	r.Entry = record.Entry{Heater: s.Heater, Task: record.StopTask, By: s.By, Note: s.Note}
	if s.End {
		r.Entry.Task = record.StopEndTask
		return
	}
	if s.From != r.At {
		r.From = s.From
	}
	r.Until = s.Begins(r.At).Add(s.For)
}

// When is when the work was done: when it was written down, unless the entry
// says otherwise.
func (r EntryRow) When() reading.Instant {
	if r.From != 0 && r.From < r.At {
		return r.From
	}
	if r.Entry.Done == 0 || r.Entry.Done > r.At {
		return r.At
	}
	return r.Entry.Done
}

func writeEntries(ctx context.Context, tx *sql.Tx, b *Batch) error {
	for _, r := range b.Entries {
		raw, err := body(r)
		if err != nil {
			return err
		}
		if _, err = tx.ExecContext(ctx, `INSERT INTO entry (line, at, heater, task, body)
			VALUES ($1, $2, $3, $4, $5) ON CONFLICT (line) DO NOTHING`,
			r.Line, int64(r.At), r.Entry.Heater, r.Entry.Task, raw); err != nil {
			return fmt.Errorf("cannot write the entry of line %d: %w", r.Line, err)
		}
	}
	return nil
}

// Entries lists a heater's service log, oldest first; an empty heater stands
// for all, 0 for no bound.
func (l *Ledger) Entries(ctx context.Context, heater string, from, to reading.Instant) ([]EntryRow, error) {
	query, args := entriesOf(heater, from, to)
	return l.entries(ctx, query, args)
}

// Fittings lists when people fitted which node to which heater, oldest first.
func (l *Ledger) Fittings(ctx context.Context) ([]EntryRow, error) {
	return l.entries(ctx, fittings, nil)
}

const fittings = `SELECT body FROM entry WHERE task = 'fit-node' ORDER BY at, line`

// EntriesBefore lists the newest entries that were written down before a line
// of the log, as many as the limit, newest first; 0 stands for the log's end.
func (l *Ledger) EntriesBefore(ctx context.Context, heater string, line int64, limit int) ([]EntryRow, error) {
	where := &terms{}
	where.add("heater = $%d", heater, heater != "")
	where.add("line < $%d", line, line != 0)
	query := `SELECT body FROM entry` + where.String() + fmt.Sprintf(" ORDER BY line DESC LIMIT $%d", len(where.args)+1)
	return l.entries(ctx, query, append(where.args, limit))
}

// EntriesAt gives the entries of lines of the log, in the order of the lines
// given; of a line without one, nothing.
func (l *Ledger) EntriesAt(ctx context.Context, lines []int64) ([]EntryRow, error) {
	rows, err := l.look(ctx, lines)
	if err != nil {
		return nil, fmt.Errorf("cannot read the service log: %w", err)
	}
	return rows, l.withdrawn(ctx, rows)
}

// look reads the lines one by one: so many by one question would be another
// question for each number of them.
func (l *Ledger) look(ctx context.Context, lines []int64) ([]EntryRow, error) {
	one, err := l.reader.PrepareContext(ctx, `SELECT body FROM entry WHERE line = $1`)
	if err != nil {
		return nil, err
	}
	defer one.Close()
	rows := make([]EntryRow, 0, len(lines))
	for _, line := range lines {
		var raw []byte
		var row EntryRow
		err := one.QueryRowContext(ctx, line).Scan(&raw)
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if err := json.Unmarshal(raw, &row); err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// Entry gives the entry of one line of the log; ok is false if there is none.
func (l *Ledger) Entry(ctx context.Context, line int64) (e EntryRow, ok bool, err error) {
	rows, err := l.EntriesAt(ctx, []int64{line})
	if err != nil || len(rows) == 0 {
		return EntryRow{}, false, err
	}
	return rows[0], true, nil
}

func (l *Ledger) entries(ctx context.Context, query string, args []any) ([]EntryRow, error) {
	rows, err := bodies[EntryRow](ctx, l.reader, query, args...)
	if err != nil {
		return nil, fmt.Errorf("cannot read the service log: %w", err)
	}
	return rows, l.withdrawn(ctx, rows)
}

func entriesOf(heater string, from, to reading.Instant) (query string, args []any) {
	where := &terms{}
	where.add("heater = $%d", heater, heater != "")
	where.add("at >= $%d", int64(from), from != 0)
	where.add("at < $%d", int64(to), to != 0)
	return `SELECT body FROM entry` + where.String() + ` ORDER BY at, line`, where.args
}
