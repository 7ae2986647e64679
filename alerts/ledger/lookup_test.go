package ledger

import (
	"strings"
	"testing"

	"heaterd/ingest/reading"
)

// TestOneHeaterIsLookedUp asks SQLite how it finds what pages want to know of a
// heater. Burns are kept for ever: read for the whole fleet on each page of a
// heater they make it slower the longer heaterd runs.
func TestOneHeaterIsLookedUp(t *testing.T) {
	l := open(t)
	for index, of := range map[string]func(string, reading.Instant, reading.Instant) (string, []any){
		"burn_by_end (heater=? AND end_at>?)": burnsOf, "burn_by_end (heater=? AND end_at>?": endingsOf, "entry_by_heater (heater=? AND at>?": entriesOf,
	} {
		for _, to := range []reading.Instant{0, at(1)} {
			query, args := of("H-07", zero, to)
			if steps := plan(t, l, query, args); !strings.Contains(steps, index) {
				t.Errorf("%s: %s, want %s", query, steps, index)
			}
		}
	}
}

// TestWhereHeatersWereIsLookedUp: where they stood and what was fitted to them is
// kept for ever, and pages of one heater or one space ask for it each time.
func TestWhereHeatersWereIsLookedUp(t *testing.T) {
	l := open(t)
	query, args := standsOf("H-07")
	for index, steps := range map[string]string{
		"stand_1 (heater=?)": plan(t, l, query, args), "USING INDEX entry_fitting": plan(t, l, fittings, nil),
	} {
		if !strings.Contains(steps, index) || strings.Contains(steps, "TEMP B-TREE") {
			t.Errorf("%s, want %s in its order", steps, index)
		}
	}
}

// plan is how SQLite would answer a question.
func plan(t *testing.T, l *Ledger, query string, args []any) string {
	rows, err := l.reader.QueryContext(ctx, "EXPLAIN QUERY PLAN "+query, args...)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var steps []string
	for rows.Next() {
		var id, parent, unused int
		var step string
		if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
			t.Fatal(err)
		}
		steps = append(steps, step)
	}
	return strings.Join(steps, "; ")
}

// TestWhatIsNotOverIsLookedUp: occurrences are kept for ever, and each message
// wants to know what stands.
func TestWhatIsNotOverIsLookedUp(t *testing.T) {
	l := open(t)
	for query, index := range map[string]string{liveAlarms: "alarm_live", lastAlarms: "alarm_by_place (place=?)"} {
		steps := plan(t, l, query, nil)
		if !strings.Contains(steps, index) {
			t.Errorf("%s: %s, want %s", query, steps, index)
		}
	}
}

// TestWhatIsDueIsLookedUp: an alarm of critical air writes down a message for every
// step of hours to come, and each one that is sent looks for the next.
func TestWhatIsDueIsLookedUp(t *testing.T) {
	l := open(t)
	for _, q := range []struct {
		query, index string
		args         []any
	}{
		{dueJobs, "job_pending (next_attempt<?)", []any{0, 1}},
		{nextDue, "job_pending", nil},
		{dated, "job_created (created>?)", []any{0}},
		{waitingJobs, "job_unsent (state=?)", nil},
	} {
		if steps := plan(t, l, q.query, q.args); !strings.Contains(steps, q.index) {
			t.Errorf("%s: %s, want %s", q.query, steps, q.index)
		}
	}
}

// TestChangesAreLookedUp holds each index of the changes against the question
// that it answers: one that answers none makes every change dearer for nothing.
func TestChangesAreLookedUp(t *testing.T) {
	l := open(t)
	for f, index := range map[Filter]string{
		{From: at(1), To: at(2)}:   "alarm_change_by_time (at>? AND at<?)",
		{Limit: 60}:                "alarm_change_by_time (at>?)", // the newest of all
		{Alarm: "H-07.fuel-low.1"}: "sqlite_autoindex_alarm_change_1 (alarm=?)",
	} {
		query, args := changesOf(f)
		if steps := plan(t, l, query, args); !strings.Contains(steps, index) {
			t.Errorf("%+v: %s, want %s", f, steps, index)
		}
	}
	const answering = 2
	var n int
	if err := l.reader.QueryRowContext(ctx, `SELECT COUNT(*) FROM pragma_index_list('alarm_change')`).Scan(&n); err != nil || n != answering {
		t.Errorf("%d indexes, %v; want %d", n, err, answering)
	}
}
