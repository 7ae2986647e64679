package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/ingest/reading"
)

func writeAlarms(ctx context.Context, tx *sql.Tx, b *Batch) error {
	for _, a := range b.Alarms {
		if err := writeAlarm(ctx, tx, a); err != nil {
			return fmt.Errorf("cannot write alarm %s: %w", a.ID, err)
		}
	}
	return nil
}

func writeAlarm(ctx context.Context, tx *sql.Tx, a alarm.Alarm) error {
	raw, err := body(a)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO alarm (id, place, n, seq, state, body) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (id) DO UPDATE SET seq = excluded.seq, state = excluded.state, body = excluded.body
		WHERE excluded.seq >= alarm.seq`,
		a.ID, place(a.Key), a.N, a.Seq, string(a.State), raw)
	return err
}

// place writes a key as one text, different for different keys.
func place(k alarm.Key) string {
	return strings.Join([]string{k.Site, k.Space, k.Heater, k.Node, string(k.Kind), k.Detail}, "\x1f")
}

// writeTransitions writes each change, and the alarm as the change left it:
// an occurrence that ended and gave way to the next within the batch is not
// among the batch's rows.
func writeTransitions(ctx context.Context, tx *sql.Tx, b *Batch) error {
	for _, t := range b.Transitions {
		err := writeTransition(ctx, tx, t)
		if err == nil {
			err = writeAlarm(ctx, tx, t.Alarm)
		}
		if err != nil {
			return fmt.Errorf("cannot write change %d of %s: %w", t.Alarm.Seq, t.Alarm.ID, err)
		}
	}
	return nil
}

func writeTransition(ctx context.Context, tx *sql.Tx, t alarm.Transition) error {
	raw, err := body(t)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO alarm_change (alarm, seq, at, kind, site, heater, quiets, body)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (alarm, seq) DO NOTHING`,
		t.Alarm.ID, t.Alarm.Seq, int64(t.At), string(t.Alarm.Kind), t.Alarm.Site, t.Alarm.Heater, flag(quiets(t)), raw)
	return err
}

// quiets reports whether nobody needs to be told any more of what came before
// this change. An alarm that returned or latched by itself still waits for
// somebody.
func quiets(t alarm.Transition) bool {
	switch t.To {
	case alarm.Unacknowledged, alarm.Returned:
		return false
	case alarm.Latched:
		return t.Alarm.Acked
	default:
		return true
	}
}

// eases reports whether nobody else needs to be woken: the condition ended by
// itself, and was not of the air people breathe. Those who were told hear of
// the end, and it stays on the pages until somebody has seen it.
func eases(t alarm.Transition) bool {
	return t.To == alarm.Returned && !t.Alarm.Kind.ConcernsPeople()
}

// Filter chooses among the changes of alarms; empty fields choose nothing.
type Filter struct {
	Alarm    string
	From, To reading.Instant // From included, To not; 0: no bound
	Limit    int             // the newest so many; 0: all
}

// History lists changes of alarms, oldest first.
func (l *Ledger) History(ctx context.Context, f Filter) ([]alarm.Transition, error) {
	query, args := changesOf(f)
	all, err := bodies[alarm.Transition](ctx, l.reader, query, args...)
	if err != nil {
		return nil, fmt.Errorf("cannot read the history: %w", err)
	}
	slices.Reverse(all)
	return all, nil
}

// changesOf asks for changes, newest first. Of all that there ever were SQLite
// looks up the newest few by their time only where that has a bound, be it one
// that shuts out none; else it sorts them all.
func changesOf(f Filter) (query string, args []any) {
	t := &terms{}
	t.add("alarm = $%d", f.Alarm, f.Alarm != "")
	t.add("at >= $%d", int64(f.From), f.From != 0 || f.Alarm == "")
	t.add("at < $%d", int64(f.To), f.To != 0)
	query = `SELECT body FROM alarm_change` + t.String() + ` ORDER BY at DESC, alarm DESC, seq DESC`
	if f.Limit > 0 {
		t.args = append(t.args, f.Limit)
		query += fmt.Sprintf(" LIMIT $%d", len(t.args))
	}
	return query, t.args
}

// terms are what rows have to fit, and the values for it. A term that chooses
// nothing is left out: one that stays and that a value switches off has every
// row of the table read.
type terms struct {
	all  []string
	args []any
}

func (t *terms) add(sql string, v any, used bool) {
	if used {
		t.args = append(t.args, v)
		t.all = append(t.all, fmt.Sprintf(sql, len(t.args)))
	}
}

func (t *terms) String() string {
	if len(t.all) == 0 {
		return ""
	}
	return " WHERE " + strings.Join(t.all, " AND ")
}

// Alarm gives one occurrence by id, over or not; ok is false if there is none.
func (l *Ledger) Alarm(ctx context.Context, id string) (a alarm.Alarm, ok bool, err error) {
	all, err := bodies[alarm.Alarm](ctx, l.reader, `SELECT body FROM alarm WHERE id = $1`, id)
	if err != nil {
		return alarm.Alarm{}, false, fmt.Errorf("cannot read alarm %s: %w", id, err)
	}
	if len(all) == 0 {
		return alarm.Alarm{}, false, nil
	}
	return all[0], true, nil
}

// lastAlarms goes from place to place: occurrences are kept for ever, and to
// read them all for the last ones takes longer the longer heaterd runs.
const lastAlarms = `WITH RECURSIVE places (place) AS (
		SELECT MIN(place) FROM alarm
		UNION ALL SELECT (SELECT MIN(a.place) FROM alarm a WHERE a.place > p.place) FROM places p WHERE p.place IS NOT NULL)
	SELECT (SELECT a.body FROM alarm a WHERE a.place = p.place ORDER BY a.n DESC LIMIT 1) FROM places p
	WHERE p.place IS NOT NULL ORDER BY p.place`

// LastAlarms lists the last occurrence of every key, over or not, for
// alarm.Book.Restore.
func (l *Ledger) LastAlarms(ctx context.Context) ([]alarm.Alarm, error) {
	all, err := bodies[alarm.Alarm](ctx, l.reader, lastAlarms)
	if err != nil {
		return nil, fmt.Errorf("cannot read the alarms: %w", err)
	}
	return all, nil
}

const liveAlarms = `SELECT body FROM alarm WHERE state <> 'normal' ORDER BY place`

// Live lists the alarms that are not over.
func (l *Ledger) Live(ctx context.Context) ([]alarm.Alarm, error) {
	all, err := bodies[alarm.Alarm](ctx, l.reader, liveAlarms)
	if err != nil {
		return nil, fmt.Errorf("cannot read the alarms that are not over: %w", err)
	}
	return all, nil
}
