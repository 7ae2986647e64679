package ledger

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"

	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/store"
)

// EndingRow is when a heater burned and how that ended. A season has many
// thousands of burns, and their evidence is most of what is stored of them.
type EndingRow struct {
	Start, End reading.Instant
	Ending     outcome.Ending
}

// Endings lists the same burns as Burns, without their evidence.
func (l *Ledger) Endings(ctx context.Context, heater string, from, to reading.Instant) ([]EndingRow, error) {
	query, args := endingsOf(heater, from, to)
	all, err := store.Collect(ctx, l.reader, endingOf, query, args...)
	if err != nil {
		return nil, fmt.Errorf("cannot read how burns ended: %w", err)
	}
	return all, nil
}

func endingsOf(heater string, from, to reading.Instant) (query string, args []any) {
	where := during(heater, from, to)
	return `SELECT start_at, end_at, body FROM burn` + where.String() + ` ORDER BY start_at, heater`, where.args
}

func endingOf(rows *sql.Rows) (EndingRow, error) {
	var start, end int64
	var raw sql.RawBytes
	if err := rows.Scan(&start, &end, &raw); err != nil {
		return EndingRow{}, err
	}
	word, err := endingIn(raw)
	return EndingRow{reading.Instant(start), reading.Instant(end), word}, err
}

// endingIn picks the ending out of a stored burn. Reading all of it for one word
// takes twice as long; within a text a quotation mark has a stroke before it, so
// nothing else looks like this.
func endingIn(raw []byte) (outcome.Ending, error) {
	_, rest, ok := bytes.Cut(raw, []byte(`"ending":"`))
	word, _, closed := bytes.Cut(rest, []byte{'"'})
	if !ok || !closed {
		return "", errors.New("the stored burn names no ending")
	}
	return outcome.Ending(word), nil
}
