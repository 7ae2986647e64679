package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// testdata/stores holds one store for every schema there has been, as a
// heaterd of that day wrote it, all with the same content. Whoever changes the
// schema runs
//
//	go test ./cmd/heaterd -run TestEarlierStores -update
//
// and commits the file it adds. Those that are there stay as they are.
const earlierStores = "testdata/stores"

var dayOfStores = reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))

func storeAt(d time.Duration) reading.Instant { return dayOfStores.Add(d) }

// contentLines is a log with every kind of line, the first ones old enough to
// be put in their hours.
func contentLines() []record.Line {
	everything := reading.Flame | reading.Runtime | reading.CO | reading.Temp | reading.Supply | reading.Call | reading.Fuel | reading.BatteryLevel
	pack := func(at time.Duration, node reading.NodeID, co float32) record.Line {
		return record.Line{At: storeAt(at), Pack: &reading.Pack{Node: node, Within: time.Minute, Samples: []reading.Sample{
			{At: storeAt(at - time.Minute), Has: reading.Flame, On: reading.Flame},
			{At: storeAt(at), Has: everything, On: reading.Flame | reading.Call, Runtime: 3600.5, CO: co, Temp: 11.5, Fuel: 0.25, Battery: 0.5},
		}}}
	}
	meter, litres := 412.5, 20.0
	return []record.Line{
		pack(0, "n-07", 4), pack(time.Hour, "n-08", -0.5),
		{At: storeAt(2 * time.Hour)},
		{At: storeAt(2 * time.Hour), Status: &record.Status{Node: "n-07", Online: true}, Retained: true},
		{At: storeAt(3 * time.Hour), Entry: &record.Entry{Heater: "H-07", Task: "nozzle", Tasks: []string{"filter"}, By: "mara", Note: "öl", MeterH: &meter, Found: "soot", Litres: &litres}},
		{At: storeAt(4 * time.Hour), Stop: &record.PlannedStop{Heater: "H-07", For: 2 * time.Hour, By: "mara"}},
		{At: storeAt(5 * time.Hour), Answer: &record.Answer{Act: record.Shelve, Alarm: "a/1", By: "tom", Role: "technician", From: "page 127.0.0.1", Why: "known", For: time.Hour}},
		{At: storeAt(6 * time.Hour), Refused: &record.Refused{Topic: "sites/quay/nodes/n-09/telemetry", Node: "n-09", Reason: reading.BadSyntax, Detail: "not JSON"}},
		{At: storeAt(7 * time.Hour), Notice: &record.Notice{About: "channel", Detail: "mail", Down: true, Why: "refused"}},
		pack(8*time.Hour, "n-07", 61),
	}
}

// contentBatch is a ledger with something of everything.
func contentBatch() ledger.Batch {
	a := alarm.Alarm{
		ID: "co-ceiling/quay/hall/1", Key: alarm.Key{Kind: "co-ceiling", Site: "quay", Space: "hall"}, N: 1, Seq: 1,
		State: alarm.Unacknowledged, Priority: "critical", Active: true, Since: storeAt(0), Raised: storeAt(time.Minute), Changed: storeAt(time.Minute),
		Value: 230, Limit: 200, HasValue: true, Unit: "ppm", Text: "above the ceiling",
	}
	return ledger.Batch{
		Cursor:      10,
		Transitions: []alarm.Transition{{At: storeAt(time.Minute), Alarm: a, From: alarm.Normal, To: alarm.Unacknowledged, Event: "raise"}},
		Alarms:      []alarm.Alarm{a},
		Burns: []ledger.BurnRow{{Final: true, Burn: outcome.Burn{Type: "burn", At: storeAt(time.Hour), Heater: "H-07", Start: storeAt(0), End: storeAt(time.Hour),
			Seconds: 3600, Ending: outcome.Unexplained, Evidence: []string{"mains present"}, Checks: []string{"fuel filter"}}}},
		Entries:  []ledger.EntryRow{{Line: 5, At: storeAt(3 * time.Hour), Entry: record.Entry{Heater: "H-07", Task: "nozzle"}}},
		Jobs:     []ledger.Job{{ID: a.ID + ".1/0", Alarm: a.ID, Seq: 1, Channel: "mail", Person: "mara", Body: json.RawMessage(`{"text":"x"}`), Created: storeAt(time.Minute), NextAttempt: storeAt(time.Minute)}},
		Snapshot: &store.Snapshot{Name: "alerts", Cursor: 10, Body: []byte("memory")},
	}
}

// fill gives an empty store the content.
func fill(t *testing.T, s *store.Store) {
	t.Helper()
	ctx := t.Context()
	lines := contentLines()
	refused := store.Quarantined{At: storeAt(6 * time.Hour), Refused: *lines[7].Refused, Payload: []byte("{")}
	_, err := s.Keep(ctx, store.Batch{Lines: lines, Quarantined: []store.Quarantined{refused}})
	if err := errors.Join(err, ledger.New(s).Commit(ctx, contentBatch())); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Compact(ctx, 3, storeAt(8*time.Hour), 100); err != nil {
		t.Fatal(err)
	}
}

// content reads everything that was put in.
func content(t *testing.T, s *store.Store) map[string]any {
	t.Helper()
	ctx, l := t.Context(), ledger.New(s)
	from, to := storeAt(-24*time.Hour), storeAt(24*time.Hour)
	out := map[string]any{"lines": toldLines(t, s)}
	for _, node := range []reading.NodeID{"n-07", "n-08"} {
		var samples []reading.Sample
		if err := s.Samples(ctx, node, from, to, func(x reading.Sample) bool { samples = append(samples, x); return true }); err != nil {
			t.Fatal(err)
		}
		out["samples of "+string(node)] = samples
		out["hours of "+string(node)] = must(s.Rollup(ctx, node, storeAt(-time.Hour), storeAt(3*time.Hour), time.Hour))(t)
	}
	out["quarantine"] = must(s.ListQuarantine(ctx, "", 10, 64<<10))(t)
	alarms := must(l.LastAlarms(ctx))(t)
	out["cursor"], out["alarms"] = must(l.Cursor(ctx))(t), alarms
	out["history"] = must(l.History(ctx, ledger.Filter{}))(t)
	out["burns"] = must(l.Burns(ctx, "H-07", from, to))(t)
	out["entries"] = must(l.Entries(ctx, "H-07", from, to))(t)
	out["jobs"] = must(l.JobsOf(ctx, alarms[0].ID))(t)
	_, body, ok, err := s.LoadSnapshot(ctx, "alerts")
	if err != nil || !ok {
		t.Fatalf("no snapshot: %v", err)
	}
	out["snapshot"] = string(body)
	return out
}

func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// schema names the schema of a store: the highest number of its own files and
// of the ledger's.
func schema(t *testing.T, s *store.Store) string {
	t.Helper()
	var own, theirs int
	err := s.Reader().QueryRowContext(t.Context(), `SELECT MAX(CASE WHEN version_id < 100 THEN version_id END), MAX(version_id) FROM goose_db_version`).Scan(&own, &theirs)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("v%d-%d.db", own, theirs)
}

// Every store of an earlier heaterd opens, comes to the schema of today, and
// holds what it held; so does today's.
func TestEarlierStores(t *testing.T) {
	fresh := openStore(t, filepath.Join(t.TempDir(), "fresh.db"))
	fill(t, fresh)
	today := schema(t, fresh)
	if *update {
		keepStore(t, fresh, today)
	}
	files, err := filepath.Glob(earlierStores + "/v*.db")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Contains(files, filepath.Join(earlierStores, today)) {
		t.Errorf("there is no %s for the schema of today: run this test with -update", today)
	}
	want := content(t, fresh)
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			s := openStore(t, duplicate(t, file))
			if got := schema(t, s); got != today {
				t.Errorf("it was brought to %s, want %s", got, today)
			}
			if err := s.Check(t.Context()); err != nil {
				t.Error(err)
			}
			if d := cmp.Diff(want, content(t, s)); d != "" {
				t.Errorf("it holds something else (-fresh +earlier):\n%s", d)
			}
			if last, err := s.Keep(t.Context(), store.Batch{Lines: contentLines()}); err != nil || last != int64(2*len(contentLines())) {
				t.Errorf("it goes on at %d: %v", last, err)
			}
		})
	}
}

// What an earlier daemon left can be copied, and is not read for a report as if
// it were of today.
func TestAnEarlierStoreSaysWhatToDo(t *testing.T) {
	files, err := filepath.Glob(earlierStores + "/v*.db")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		today := file == files[len(files)-1]
		for _, needs := range [][]fs.FS{nil, {store.Migrations, ledger.Migrations}} {
			s, err := store.OpenReader(t.Context(), duplicate(t, file), silent, needs...)
			if errors.Is(err, store.ErrEarlier) == (today || needs == nil) || err != nil && !errors.Is(err, store.ErrEarlier) {
				t.Errorf("%s, %d needs: %v", file, len(needs), err)
			}
			if err == nil {
				_ = s.Close()
			}
		}
	}
}

// keepStore writes the store of today's schema, where there is none yet.
func keepStore(t *testing.T, s *store.Store, name string) {
	t.Helper()
	path := filepath.Join(earlierStores, name)
	if _, err := os.Stat(path); err == nil {
		return
	}
	if err := errors.Join(os.MkdirAll(earlierStores, 0o750), s.Backup(t.Context(), path)); err != nil {
		t.Fatal(err)
	}
}

// duplicate copies a file to where it may be changed.
func duplicate(t *testing.T, file string) string {
	t.Helper()
	b, err := os.ReadFile(file)
	path := filepath.Join(t.TempDir(), filepath.Base(file))
	if err := errors.Join(err, os.WriteFile(path, b, 0o600)); err != nil {
		t.Fatal(err)
	}
	return path
}
