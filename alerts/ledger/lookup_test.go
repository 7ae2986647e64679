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
		"burn_by_end (heater=? AND end_at>?)": burnsOf, "entry_by_heater (heater=? AND at>?": entriesOf,
	} {
		for _, to := range []reading.Instant{0, at(1)} {
			query, args := of("H-07", zero, to)
			if steps := plan(t, l, query, args); !strings.Contains(steps, index) {
				t.Errorf("%s: %s, want %s", query, steps, index)
			}
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
