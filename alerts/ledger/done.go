package ledger

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// Done is what an index of the service log needs to know of one of its lines.
type Done struct {
	Line   int64
	Heater string
	When   reading.Instant // as EntryRow.When
}

// DoneAfter tells of the lines after one, as many as the limit, in their order.
// Most were written down when they were done: only those that may say otherwise are
// read whole.
func (l *Ledger) DoneAfter(ctx context.Context, line int64, limit int) ([]Done, error) {
	all, err := store.Collect(ctx, l.reader, scanDone, `SELECT line, heater, at,
		CASE WHEN body LIKE '%"done_at"%' OR body LIKE '%"from"%' THEN body END
		FROM entry WHERE line > $1 ORDER BY line LIMIT $2`, line, limit)
	if err != nil {
		return nil, fmt.Errorf("cannot look through the service log: %w", err)
	}
	return all, nil
}

func scanDone(rows *sql.Rows) (one Done, err error) {
	var raw []byte
	err = rows.Scan(&one.Line, &one.Heater, &one.When, &raw)
	if err == nil && raw != nil {
		one.When, err = whenOf(raw)
	}
	return one, err
}

func whenOf(raw []byte) (reading.Instant, error) {
	var row EntryRow
	err := json.Unmarshal(raw, &row)
	return row.When(), err
}
