package ledger

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

const zero = reading.Instant(1_768_197_600_000_000) // 2026-01-12T06:00:00Z

var ctx = context.Background()

func at(d time.Duration) reading.Instant { return zero.Add(d) }

// open gives a ledger in a fresh store, whose writer fails on demand.
func open(t testing.TB) *Ledger {
	t.Helper()
	path := filepath.Join(t.TempDir(), "heaterd.db")
	s, err := store.Open(ctx, path, slog.New(slog.DiscardHandler), Migrations)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	writer, err := sql.Open("faulty", "file:"+path+"?_pragma=busy_timeout(5000)&_pragma=synchronous(OFF)&_txlock=immediate")
	if err != nil {
		t.Fatal(err)
	}
	writer.SetMaxOpenConns(1)
	t.Cleanup(func() { writer.Close() })
	return &Ledger{writer, s.Reader()}
}

var tables = map[string]string{
	"ledger": "one", "alarm": "id", "alarm_change": "alarm, seq", "burn": "heater, start_at",
	"entry": "line", "withdrawal": "entry", "job": "id", "delivery": "id", "snapshot": "name",
}

// dump writes down everything the ledger holds.
func dump(t interface{ Fatal(...any) }, l *Ledger) map[string][]string {
	all := map[string][]string{}
	for table, order := range tables {
		rows, err := l.reader.QueryContext(ctx, "SELECT * FROM "+table+" ORDER BY "+order)
		if err != nil {
			t.Fatal(err)
		}
		columns, _ := rows.Columns()
		for rows.Next() {
			values, into := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				into[i] = &values[i]
			}
			if err := rows.Scan(into...); err != nil {
				t.Fatal(err)
			}
			all[table] = append(all[table], fmt.Sprint(values...))
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

func stop(heater string) alarm.Condition {
	return alarm.Condition{Key: alarm.Key{Kind: alarm.ShutdownUnexplained, Site: "quay", Heater: heater}, Active: true, Known: true}
}

func job(tr alarm.Transition, step int, after time.Duration) Job {
	return Job{
		ID:    fmt.Sprintf("%s.%d/%d", tr.Alarm.ID, tr.Alarm.Seq, step),
		Alarm: tr.Alarm.ID, Seq: tr.Alarm.Seq, Channel: "mail", Person: "p1", Step: step,
		Body: json.RawMessage(`{"text":"x"}`), Created: tr.At, NextAttempt: tr.At.Add(after),
	}
}

func burn(heater string, start, end time.Duration, e outcome.Ending, final bool) BurnRow {
	return BurnRow{Burn: outcome.Burn{
		Type: "burn", At: at(end), Heater: heater, Start: at(start), End: at(end), Seconds: (end - start).Seconds(), Ending: e,
	}, Final: final}
}

// full is a batch with something of everything.
func full() Batch {
	b := alarm.NewBook(alarm.Rules())
	ts := b.Observe(zero, stop("H-07"))
	ts = append(ts, b.Observe(at(time.Second), stop("H-08"))...)
	return Batch{
		Cursor: 17, Transitions: ts, Alarms: b.Touched(),
		Burns:       []BurnRow{burn("H-07", -time.Hour, 0, outcome.Unexplained, true), burn("H-08", -time.Hour, 0, outcome.Unknown, false)},
		Entries:     []EntryRow{{Line: 3, At: at(-time.Minute), Entry: record.Entry{Heater: "H-07", Task: "refuel"}}},
		Withdrawals: []WithdrawalRow{{3, Withdrawal{At: at(0), By: "Kim", Why: "the wrong heater"}}},
		Jobs:        []Job{job(ts[0], 0, 0), job(ts[0], 1, 10*time.Minute)},
		Snapshot:    &store.Snapshot{Name: "alerts", Cursor: 17, Body: []byte("state")},
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
